"""The quay strider: every element as a mesh where it stands, its rows of the element table, and what is known of it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise

import numpy as np

from .arms import plan_left_arm
from .bones import BY_HAND, Bone, mirror_bone
from .column import Vertebra, plan_column
from .legs import plan_left_leg
from .limb_joints import LimbJoint
from .solids import Array, Solid, make_mesh, roughen
from .trunk import plan_chevrons, plan_head, plan_trunk
from .vertebra import make_vertebra

ROUGHNESS = 0.006
"""Height of a bone's own unevenness, as a share of its breadth."""


WAVES = (0.2, 0.5)
"""Lengths of its swellings, by its size: a vertebra's are finer."""
CELLS_A_RADIUS = 7
"""So many of the grid's cells go on the radius of a limb's articular surface, at detail 1."""


@dataclass(frozen=True)
class Element:
    """An element as the table names it, and its mesh [m] in the world.

    vertices : (n, 3); faces : (m, 3) turning outwards
    """

    name: str
    series: str
    position: int | None
    side: str
    parent: str
    attachment: str
    reason: str
    vertices: Array
    faces: Array


def plan_bones(column: list[Vertebra]) -> list[Bone]:
    """Every bone that is no vertebra."""
    sides = []
    for limb in (plan_left_arm(column), plan_left_leg()):
        sides += [*limb, *map(mirror_bone, limb)]
    return [*plan_head(column), *plan_trunk(column), *plan_chevrons(column), *sides]


def make_elements(seed: int, detail: float = 1.0, workers: int = 2) -> Iterator[Element]:
    """Every element of the animal; the same seed makes the same animal.

    detail : 1 for 5 000 to 20 000 triangles an element; triangles grow with its square
    """
    count = len(plan_column()) + len(plan_bones(plan_column()))
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(partial(_make_element, seed, detail), range(count), chunksize=4)


@cache
def _plan() -> tuple[list[Vertebra], list[Bone]]:
    """Column and other bones, planned once a process."""
    column = plan_column()
    return column, plan_bones(column)


def _make_element(seed: int, detail: float, index: int) -> Element:
    column, bones = _plan()
    if index < len(column):
        vertebra = column[index]
        parent, attachment = _hang(vertebra, column)
        number = None if vertebra.series == "sacral" else vertebra.number
        mesh = make_vertebra_mesh(vertebra, seed, detail)
        return Element(name_vertebra(vertebra), vertebra.series, number, "middle", parent, attachment, "", *mesh)
    bone = bones[index - len(column)]
    attachment = "fixed" if bone.joint is None else "limb"
    mesh = make_bone_mesh(bone, seed, index, detail)
    return Element(bone.name, bone.series, bone.position, bone.side, bone.parent, attachment, bone.reason, *mesh)


def make_bone_mesh(bone: Bone, seed: int, index: int, detail: float) -> tuple[Array, Array]:
    """Vertices (n, 3) [m] and triangles (m, 3) of a bone where it stands, uneven as its number has it."""
    rng = np.random.default_rng([seed, index])
    breadth, cell = find_breadth(bone), bone.reach / 42
    if bone.finest is not None:
        cell = min(cell, bone.finest / CELLS_A_RADIUS)
    size = bone.reach if bone.finest is None else 2 * breadth
    solid = roughen(bone.solid, size, find_height(bone), rng, WAVES)
    return make_mesh(solid, bone.centre, 1.15 * bone.reach, cell / detail, bone.finest is not None)


def find_breadth(bone: Bone) -> float:
    """Of its ends, where they bear joints; else what its cube is half as wide as [m]."""
    return bone.reach if bone.finest is None else min(2.5 * bone.finest, bone.reach)


def find_height(bone: Bone) -> float:
    """Of its unevenness [m]."""
    return ROUGHNESS * find_breadth(bone)


def make_vertebra_mesh(vertebra: Vertebra, seed: int, detail: float) -> tuple[Array, Array]:
    """Vertices (n, 3) [m] and triangles (m, 3) of one vertebra where it stands, uneven as its own number has it."""
    s = vertebra.shape
    rng = np.random.default_rng([seed, len(vertebra.series), vertebra.number])
    solid: Solid = roughen(make_vertebra(s, vertebra.head, vertebra.tail), s.breadth, ROUGHNESS * s.breadth, rng)
    top = s.height / 2 + 2.2 * s.canal + s.spine
    centre = s.X_WV[:3, 3] + s.X_WV[:3, 2] * 0.4 * top
    reach = max(s.length, 0.8 * top, s.breadth / 2 + s.process) + 0.4 * s.breadth
    return make_mesh(solid, centre, reach, 0.045 * s.breadth / detail)


def name_vertebra(vertebra: Vertebra) -> str:
    return "sacrum" if vertebra.series == "sacral" else f"{vertebra.series} {vertebra.number}"


def _hang(vertebra: Vertebra, column: list[Vertebra]) -> tuple[str, str]:
    """Parent and attachment: towards the sacrum, which is the root."""
    if vertebra.series == "sacral":
        return "", "root"
    names = [name_vertebra(v) for v in column]
    at, root = names.index(name_vertebra(vertebra)), names.index("sacrum")
    return names[at + 1 if at < root else at - 1], "column"


def tell_truth() -> dict[str, object]:
    """Joints and facets of the column and the limbs' joints, in metres: known because they were made so."""
    column = plan_column()
    joints = []
    for headward, tailward in pairwise(column):
        joint = headward.tail
        facets = []
        for vertebra, is_tailward in ((headward, False), (tailward, True)):
            name = name_vertebra(vertebra)
            if joint.ball_radius_m is None:
                facets.append(
                    {"kind": "centrum", "element": name, "centroid_m": joint.plate_centre(is_tailward).tolist()}
                )
            if joint.facet_m is not None:
                facets += [
                    {
                        "kind": f"{word} zygapophysis",
                        "element": name,
                        "centroid_m": joint.facet_centre(side, is_tailward).tolist(),
                    }
                    for side, word in ((1, "left"), (-1, "right"))
                ]
        joints.append(
            {
                "headward": name_vertebra(headward),
                "tailward": name_vertebra(tailward),
                "centre_m": joint.X_WJ[:3, 3].tolist(),
                "ball_radius_m": joint.ball_radius_m,
                "facets": facets,
            }
        )
    bones = plan_bones(column)
    drawn = {
        bone.name: {"centre_m": bone.start.tolist(), "away_from_parent": bone.away.tolist()}
        for bone in bones
        if bone.reason == BY_HAND
    }
    limbs = {bone.name: _tell_limb_joint(bone, bone.joint) for bone in bones if bone.joint is not None}
    return {"column": joints, "limb_joints": limbs, "joints_without_surfaces": drawn}


def _tell_limb_joint(bone: Bone, joint: LimbJoint) -> dict[str, object]:
    """Family, centre and axes (none of a ball, two of a saddle); radius, gap."""
    return {
        "parent": bone.parent,
        "family": joint.family,
        "centre_m": joint.centre.tolist(),
        "axes": [{"direction": way.tolist(), "point_m": point.tolist()} for way, point in joint.axes],
        "radius_m": joint.radius,
        "gap_m": joint.gap,
        "away_from_parent": bone.away.tolist(),
    }
