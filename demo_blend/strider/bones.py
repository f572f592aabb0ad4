"""A bone of the quay strider that is no vertebra."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .limb_joints import LimbJoint, mirror_joint
from .solids import Array, Solid, mirror

SIDES = ((1, "left"), (-1, "right"))
HELD = "held by its neighbour"
UNJOINTED = "placed by hand: no bony joint"
BY_HAND = "its joint is set by hand"


@dataclass(frozen=True)
class Bone:
    """A bone where it stands.

    name, series, position, side, parent : as in the element table; reason : why it is fixed to its parent
    solid : its shape; centre, reach : of a cube that holds it, half an edge long [m]
    start : (3,) where it meets its parent [m]; away : (3,) from there along the bone, not of unit length
    joint : of a limb, the one with its parent; None where it is fixed
    finest : radius of the smallest articular surface on it, or of what else is to be drawn as finely [m]; None where
        nothing is
    """

    name: str
    series: str
    position: int | None
    side: str
    parent: str
    reason: str
    solid: Solid
    centre: Array
    reach: float
    start: Array
    away: Array
    joint: LimbJoint | None = None
    finest: float | None = None


def make_bone(
    name: str,
    series: str,
    side: str,
    parent: str,
    reason: str,
    solid: Solid,
    points: list,
    thick: float,
    number: int | None = None,
    joint: LimbJoint | None = None,
    finest: float | None = None,
) -> Bone:
    """A bone that lies within `thick` [m] of the box about some points; at the first of them it meets its parent."""
    points = np.array(points, float)
    low, high = points.min(axis=0) - thick, points.max(axis=0) + thick
    reach, away = float((high - low).max()) / 2, points[1:].mean(axis=0) - points[0] if len(points) > 1 else points[0]
    return Bone(
        name, series, number, side, parent, reason, solid, (low + high) / 2, reach, points[0], away, joint, finest
    )


def mirror_bone(bone: Bone) -> Bone:
    """The right one of a left bone."""
    flip = np.array([1.0, -1.0, 1.0])
    return replace(
        bone,
        name=name_right(bone.name),
        side="right",
        parent=name_right(bone.parent),
        solid=mirror(bone.solid),
        centre=bone.centre * flip,
        start=bone.start * flip,
        away=bone.away * flip,
        joint=None if bone.joint is None else mirror_joint(bone.joint),
    )


def name_right(name: str) -> str:
    """The name of the right one; the name itself where it is of no side."""
    stem, _, side = name.rpartition(" ")
    return f"{stem} right" if side == "left" else name


def offset(x: float, y: float, z: float) -> Array:
    return np.array([x, y, z])
