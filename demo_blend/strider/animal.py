"""The quay strider: every element as a mesh where it stands, its rows of the element table, and what is known of it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise

import numpy as np

from .bones import BY_HAND, Bone
from .column import Vertebra, plan_column
from .limbs import plan_arms, plan_legs
from .solids import Array, Solid, make_mesh, roughen
from .trunk import plan_chevrons, plan_head, plan_trunk
from .vertebra import make_vertebra

ROUGHNESS = 0.006
"""Height of a bone's own unevenness, as a share of its breadth."""


FITTED = ("femur",)
"""Bones whose joints have surfaces to be fitted: a ball in its socket. The others meet in knobs, and are told."""


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
    return [*plan_head(column), *plan_trunk(column), *plan_chevrons(column), *plan_arms(column), *plan_legs()]


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
    solid = roughen(bone.solid, bone.reach, ROUGHNESS * bone.reach, np.random.default_rng([seed, index]))
    mesh = make_mesh(solid, bone.centre, 1.15 * bone.reach, bone.reach / 42 / detail)
    attachment, reason = ("limb", "") if bone.name.partition(" ")[0] in FITTED else ("fixed", bone.reason)
    return Element(bone.name, bone.series, bone.position, bone.side, bone.parent, attachment, reason, *mesh)


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
    limbs = {
        bone.name: {"centre_m": bone.joint.tolist(), "away_from_parent": bone.away.tolist()}
        for bone in plan_bones(column)
        if bone.reason == BY_HAND
    }
    return {"column": joints, "limb_joints": limbs}
