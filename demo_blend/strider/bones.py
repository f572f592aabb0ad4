"""A bone of the quay strider that is no vertebra, and shapes that several of them share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .solids import Array, Solid, ball, join, rod

SIDES = ((1, "left"), (-1, "right"))
HELD = "held by its neighbour"
UNJOINTED = "placed by hand: no bony joint"
BY_HAND = "its joint is set by hand"


@dataclass(frozen=True)
class Bone:
    """A bone where it stands.

    name, series, position, side, parent : as in the element table; reason : why it is fixed to its parent
    solid : its shape; centre, reach : of a cube that holds it, half an edge long [m]
    joint : (3,) where it meets its parent [m]; away : (3,) from there along the bone, not of unit length
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
    joint: Array
    away: Array


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
) -> Bone:
    """A bone that lies within `thick` [m] of the box about some points; at the first of them it meets its parent."""
    points = np.array(points, float)
    low, high = points.min(axis=0) - thick, points.max(axis=0) + thick
    reach, away = float((high - low).max()) / 2, points[1:].mean(axis=0) - points[0] if len(points) > 1 else points[0]
    return Bone(name, series, number, side, parent, reason, solid, (low + high) / 2, reach, points[0], away)


def offset(x: float, y: float, z: float) -> Array:
    return np.array([x, y, z])


def long_bone(start: Array, end: Array, thick: float, first: float = 1.5, last: float = 1.5) -> Solid:
    """A shaft with swollen ends, `first` and `last` times its radius."""
    start, end = np.asarray(start, float), np.asarray(end, float)
    along = (end - start) / np.linalg.norm(end - start)
    shaft = rod(start + along * first * thick, end - along * last * thick, thick, 0.9 * thick)
    knobs = ball(start + along * first * thick, first * thick), ball(end - along * last * thick, last * thick)
    return join(shaft, *knobs, blend=1.2 * thick)
