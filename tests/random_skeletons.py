"""Made-up skeletons of any size: a trunk with branches, random shapes, all joints free, four feet or none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from core_calcs.mesh.solid import Solid
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, Skeleton, build_skeleton
from core_calcs.spatial.transforms import make_transform


def make_rotation(rng: np.random.Generator) -> np.ndarray:
    """A rotation (3, 3), evenly spread."""
    q = rng.normal(size=4)
    w, x, y, z = q / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def make_solid(volume_m3: float, centre_m: np.ndarray, half_m: np.ndarray) -> Solid:
    """A box's measures (half sides (3,)) with a volume of its own."""
    squares = half_m**2
    inertia = np.diag(squares.sum() - squares) * volume_m3 / 3
    return Solid(volume_m3, 0.0, centre_m, inertia, centre_m - half_m, centre_m + half_m, 12, ("closed",))


def make_element(name: str, solid: Solid, X_WE: np.ndarray) -> Element:
    """An element of no particular series."""
    return Element(name, "other", None, "middle", "not known", Source(f"{name}.stl", None, 1.0, "0" * 64), solid, X_WE)


def make_joint(parent: str, child: str, X_WJ: np.ndarray, senses: tuple[int, int, int] = (1, 1, 1)) -> Joint:
    """A joint set by hand, without limits."""
    return Joint(parent, child, "by hand", X_WJ, senses, None, (), "by hand", "made up", None)


def make_random_skeleton(count: int, rng: np.random.Generator, feet: int = 4, bushy: int = 4) -> Skeleton:
    """Random elements about a metre apart, each on one of the `bushy` before it; feet are single points on the last."""
    places, elements, joints = [np.zeros(3)], [], []
    for i in range(count):
        if i:
            parent = int(rng.integers(max(0, i - bushy), i))
            places.append(places[parent] + rng.normal(size=3) * 0.3)
        solid = make_solid(float(rng.uniform(1e-3, 2e-2)), rng.normal(size=3) * 0.1, rng.uniform(0.02, 0.2, 3))
        elements.append(make_element(f"e{i}", solid, make_transform(make_rotation(rng), places[i])))
        if i:
            senses = tuple(int(s) for s in rng.choice([-1, 1], 3))
            X_WJ = make_transform(make_rotation(rng), places[i] + rng.normal(size=3) * 0.05)
            joints.append(make_joint(f"e{parent}", f"e{i}", X_WJ, senses))  # type: ignore[arg-type]
    holders = rng.choice(count, size=feet, replace=False) if feet else []
    stands = tuple(Foot(f"foot {k}", (Contact(f"e{i}", rng.normal(size=(1, 3)) * 0.1),)) for k, i in enumerate(holders))
    return build_skeleton("made up", tuple(elements), tuple(joints), stands)


def make_random_pose(skeleton: Skeleton, rng: np.random.Generator, spread_rad: float = 0.6) -> Pose:
    """Every joint turned about all its axes."""
    return Pose("any", {joint.child: rng.normal(size=3) * spread_rad for joint in skeleton.joints})


def scale_skeleton(skeleton: Skeleton, s: float) -> Skeleton:
    """The same skeleton s times as large."""
    elements = []
    for element in skeleton.elements:
        solid = element.solid
        scaled = replace(
            solid,
            volume_m3=solid.volume_m3 * s**3,
            centre_m=solid.centre_m * s,
            inertia_m5=solid.inertia_m5 * s**5,
            lower_m=solid.lower_m * s,
            upper_m=solid.upper_m * s,
        )
        X = element.X_WE.copy()
        X[:3, 3] *= s
        elements.append(replace(element, solid=scaled, X_WE=X))
    joints = []
    for joint in skeleton.joints:
        X = joint.X_WJ.copy()
        X[:3, 3] *= s
        joints.append(replace(joint, X_WJ=X))
    feet = tuple(
        Foot(foot.name, tuple(Contact(c.element, c.points_m * s) for c in foot.contacts)) for foot in skeleton.feet
    )
    return build_skeleton(skeleton.name, tuple(elements), tuple(joints), feet)
