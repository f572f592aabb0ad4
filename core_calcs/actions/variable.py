"""A variable action as plain forces: in every way in which it may act, on which elements, where."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..site.actions import ActionKind, PointAction
from ..spatial.transforms import Array

VariableKind = ActionKind | Literal["wind"]
WIND_NAME = "wind"


@dataclass(frozen=True, eq=False)
class VariableAction:
    """One variable action in each of its ways, of which one acts at a time. World axes, characteristic values.

    directions : (w, 3) unit vectors, of each way
    bodies : (k,) indices of the elements that it acts on
    forces_N, points_m : (w, k, 3) on each of them; those of one way are parallel
    """

    name: str
    kind: VariableKind
    directions: Array
    bodies: np.ndarray
    forces_N: Array
    points_m: Array

    @property
    def whole_N(self) -> Array:
        """(w, 3) the force on the whole."""
        total: Array = self.forces_N.sum(axis=1)
        return total

    @property
    def line_m(self) -> Array:
        """(w, 3) a point of the whole force's line: the middle of parallel forces; of no force the points' middle."""
        parts = np.einsum("wki,wi->wk", self.forces_N, self.directions)
        sums = parts.sum(axis=1, keepdims=True)
        shares = np.divide(parts, sums, out=np.full_like(parts, 1 / max(parts.shape[1], 1)), where=sums > 0)
        line: Array = np.einsum("wk,wki->wi", shares, self.points_m)
        return line


def spread_directions(count: int) -> Array:
    """(count, 3) level unit vectors, evenly round from x towards y."""
    angles = 2 * np.pi * np.arange(count) / count
    # A quarter turn is one to the last digit: cos and sin of π/2 are not.
    exact = np.round(np.stack([np.cos(angles), np.sin(angles), np.zeros(count)], axis=1), 15)
    return np.asarray(exact, float)


def act_at_point(action: PointAction, body: int, X_WE: Array, count: int) -> VariableAction:
    """A push, pull or person at its point of a posed element.

    Parameters
    ----------
    body : index of its element
    X_WE : (4, 4) of that element in the pose
    count : of directions to try where it is worst somewhere
    """
    if action.kind == "person":
        directions = np.array([[0.0, 0.0, -1.0]])
    elif action.direction is None:
        directions = spread_directions(count)
    else:
        directions = np.array([action.direction], float)
    point = X_WE[:3, :3] @ np.asarray(action.point_m, float) + X_WE[:3, 3]
    ways = len(directions)
    points = np.broadcast_to(point, (ways, 1, 3)).copy()
    forces = action.force_N * directions[:, None, :]
    return VariableAction(action.name, action.kind, directions, np.array([body]), forces, points)


def word_direction(direction: Sequence[float]) -> str:
    """A direction in words: `down`, `horizontal, 30° from x towards y`, or as a vector."""
    x, y, z = (float(value) for value in direction)
    if abs(z) > 1 - 1e-9:
        return "up" if z > 0 else "down"
    if abs(z) < 1e-9:
        return f"horizontal, {math.degrees(math.atan2(y, x)) % 360:.0f}° from x towards y"
    return f"({x:.3g}, {y:.3g}, {z:.3g})"
