"""Made-up joints of known shape, and what is found of them: `python -m tests.made_up_joints` prints the table.

Limb joints (ball in socket, cylinder, pulley, paired condyles, saddle; an egg and two flats, of which nothing can be
said) and joints of a column (flat ends, ball and cotyle), each smooth, uneven as scans are, with a piece broken off,
sheared by 10°, of about 2 000 triangles and of many. *Found* is a joint whose centre lies within .02 of the radius and
whose axes lie within 1° of the truth; *wrong* one that is said to be found and lies farther off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import trimesh

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.column_joint import find_column_joint
from core_calcs.articulation.limb_joint import find_limb_joint
from core_calcs.articulation.partner import Partner, prepare_partner
from core_calcs.mesh.proxies import make_proxy
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.joint import Joint, LimitSettings
from tests.made_up_limbs import MADE, make_flat_pair
from tests.made_up_vertebrae import Shape, ball, cut, make_mesh, make_vertebrae, roughen

CENTRE_R, AXIS_DEG, LIMIT_DEG = 0.02, 1.0, 0.5
LIMBS = ("ball", "cylinder", "pulley", "condyles", "saddle")
SHAPES = (Shape(0, 24), Shape(0, 36), Shape(0.3, 24), Shape(0.36, 36))
MORE_SHAPES = (Shape(0, 30), Shape(0, 44), Shape(0.25, 30), Shape(0.4, 44))
FREE = LimitSettings(gap_share_s=100.0, contact_share_s=0.5, slide_share_s=0.0)
"""Facets of the column slide until half of them has slid off: nothing else ends flexion, nor makes them slide aside."""
SHEAR = np.array([[1, 0, np.tan(np.radians(10))], [0, 1, 0], [0, 0, 1]])
CONDITIONS = ("smooth", "uneven", "broken", "sheared", "2k triangles", "many triangles")


@dataclass(frozen=True)
class Outcome:
    """What became of one made-up joint.

    verdict : found, ambiguous, wrong
    centre_r, axis_deg : off the truth; NaN where nothing is said of it
    limits_deg : worst of flexion and extension off the truth; NaN where that is not known
    telling : whether the shape tells its joint at all
    """

    name: str
    verdict: str
    centre_r: float
    axis_deg: float
    limits_deg: float
    telling: bool
    reason: str


def list_joints() -> dict[str, Callable[[], Outcome]]:
    """Every made-up joint by name."""
    joints: dict[str, Callable[[], Outcome]] = {}
    for kind in LIMBS:
        for condition in CONDITIONS:
            joints[f"{kind}, {condition}"] = lambda kind=kind, condition=condition: try_limb(kind, condition)
    for condition in ("smooth", "uneven"):
        joints[f"egg, {condition}"] = lambda condition=condition: try_limb("egg", condition)
    joints["two flats"] = try_flats
    for shape in SHAPES:
        for condition in CONDITIONS:
            name = _name_shape(shape, condition)
            joints[name] = lambda shape=shape, condition=condition: try_vertebrae(shape, condition)
    for shape in MORE_SHAPES:
        joints[_name_shape(shape, "smooth")] = lambda shape=shape: try_vertebrae(shape, "smooth")
    return joints


def try_limb(kind: str, condition: str) -> Outcome:
    """Make a limb joint, turned and moved at random, and look for it."""
    rng = np.random.default_rng([sorted(MADE).index(kind), CONDITIONS.index(condition)])
    parent, child, axes, _ = MADE[kind]()
    if condition == "broken":
        # A piece of the hollow's rim, and of what stands beside it, is gone.
        broken = ball((0.9, 0.6, 0.6), 0.55)
        parent, child = (cut(parent, broken), child) if kind == "ball" else (parent, cut(child, broken))
    if condition == "uneven":
        parent, child = (roughen(solid, 3.0, 0.01, rng) for solid in (parent, child))
    R = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    R, t = R * np.sign(np.linalg.det(R)), rng.normal(size=3)
    shear = SHEAR if condition == "sheared" else np.eye(3)
    bones = []
    for name, solid, at in (("parent", parent, -1.6), ("child", child, 1.9)):
        made = Surface(*make_mesh(solid, (0, 0, at), 3.6, 0.05 if condition == "many triangles" else 0.07))
        made = _retriangulate(made, condition)
        bones.append(prepare(name, Surface(made.vertices @ shear.T @ R.T + t, made.faces)))
    joint = find_limb_joint(bones[0], bones[1], "left", LimitSettings(search_rad=0.02))
    truths = axes @ shear.T @ R.T
    return _judge(f"{kind}, {condition}", joint, t, truths, 1.0, np.nan, kind != "egg")


def try_flats() -> Outcome:
    """Two flats: nothing tells about what they turn."""
    pair = make_flat_pair()
    joint = find_limb_joint(pair.parent, pair.child, "left", LimitSettings(search_rad=0.02))
    return _judge("two flats", joint, pair.centre, pair.axes, 1.0, np.nan, False)


def try_vertebrae(shape: Shape, condition: str) -> Outcome:
    """Make two vertebrae and look for their joint; flexion and extension end where half of an arc has slid off."""
    surfaces = make_vertebrae(
        shape,
        roughness=0.006 if condition == "uneven" else 0.0,
        broken=condition == "broken",
        deform=(lambda vertices: vertices @ SHEAR.T) if condition == "sheared" else None,
        cell=0.015 if condition == "many triangles" else 0.03,
        triangles=2000 if condition == "2k triangles" else None,
    )
    headward, tailward = (
        prepare(name, surface) for name, surface in zip(("headward", "tailward"), surfaces, strict=True)
    )
    axes = column_axes(headward.centre, tailward.centre)
    joint = find_column_joint(tailward, headward, axes, True, FREE)
    # Sheared, the arcs are round no longer; without its fellow a zygapophysis ends nothing.
    known = condition not in ("sheared", "broken")
    return _judge(
        _name_shape(shape, condition), joint, np.zeros(3), np.array([[0, 1.0, 0]]), shape.ball or 0.46,
        shape.arc_deg / 2 if known else np.nan, condition != "broken",
    )  # fmt: skip


def prepare(name: str, surface: Surface) -> Partner:
    """An element ready for joints."""
    repaired, solid = survey_body(surface)
    return prepare_partner(name, repaired, solid.volume_m3, solid.centre_m)


def _retriangulate(surface: Surface, condition: str) -> Surface:
    if condition == "2k triangles":
        return make_proxy(surface, 2000)
    if condition == "many triangles":
        vertices, faces = trimesh.remesh.subdivide(surface.vertices, surface.faces)
        return Surface(np.asarray(vertices, float), np.asarray(faces, np.int64))
    return surface


def _name_shape(shape: Shape, condition: str) -> str:
    ends = f"ball of {shape.ball:g}" if shape.ball else "flat ends"
    return f"{ends}, arcs of {shape.arc_deg:g}°, {condition}"


def _judge(
    name: str, joint: Joint, centre: np.ndarray, axes: np.ndarray, radius: float, half_arc_deg: float, telling: bool
) -> Outcome:
    if not joint.moves:
        return Outcome(name, "ambiguous", np.nan, np.nan, np.nan, telling, joint.reason)
    if len(axes) and joint.fit is not None and joint.fit.family in ("hinge", "paired condyles"):
        across = joint.X_WJ[:3, 3] - centre
        off = float(np.linalg.norm(across - axes[0] * (axes[0] @ across))) / radius
    elif joint.fit is not None and joint.fit.family == "saddle":
        off = 0.0  # its centre lies between two axes: the axes are what is judged
    else:
        off = float(np.linalg.norm(joint.X_WJ[:3, 3] - centre)) / radius
    turned = [_find_angle(axis, joint.X_WJ[:3, :3]) for axis in axes]
    askew = max(turned, default=0.0)
    limits = np.nan
    if joint.limits is not None and np.isfinite(half_arc_deg) and joint.confidence == "found":
        ends = joint.limits[0].low, joint.limits[0].high
        limits = max(abs(abs(np.degrees(stop.angle_rad)) - half_arc_deg) for stop in ends)
    right = off <= CENTRE_R and askew <= AXIS_DEG
    verdict = "ambiguous" if joint.confidence == "ambiguous" and right else "found" if right else "wrong"
    return Outcome(name, verdict, off, askew, float(limits), telling, joint.reason)


def _find_angle(axis: np.ndarray, frame: np.ndarray) -> float:
    """Between a true axis and the nearest of a frame's [deg]."""
    unit = axis / np.linalg.norm(axis)
    return float(np.degrees(np.arccos(np.clip(np.abs(frame.T @ unit).max(), 0, 1))))


def describe(outcome: Outcome) -> str:
    """A row of the table."""
    figures = [f"{value:.{places}f}" if np.isfinite(value) else "–" for value, places in (
        (outcome.centre_r, 3), (outcome.axis_deg, 2), (outcome.limits_deg, 2))]  # fmt: skip
    return f"{outcome.name:44} {outcome.verdict:10} {figures[0]:>7} {figures[1]:>6} {figures[2]:>6}"


if __name__ == "__main__":
    print(f"{'joint':44} {'verdict':10} {'centre':>7} {'axis':>6} {'limits':>6}   (shares of the radius, degrees)")
    outcomes = []
    for find in list_joints().values():
        outcomes.append(find())
        print(describe(outcomes[-1]), "" if outcomes[-1].verdict == "found" else f"  {outcomes[-1].reason}", flush=True)
    verdicts = [outcome.verdict for outcome in outcomes]
    print(", ".join(f"{verdicts.count(word)} {word}" for word in ("found", "ambiguous", "wrong")), "of", len(verdicts))
