"""What is asked of an element: a point of it at a place, an attitude, a direction to look; and how far off it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array


@dataclass(frozen=True, eq=False)
class PlaceGoal:
    """A point of an element (3,) in its frame E [m] is to come to a place (3,) in the pose's world [m]."""

    element: str
    point_m: Array
    place_m: Array


@dataclass(frozen=True, eq=False)
class AttitudeGoal:
    """An element's frame E is to have the attitude R_WE (3, 3) in the pose's world."""

    element: str
    R_WE: Array


@dataclass(frozen=True, eq=False)
class LookGoal:
    """A direction (3,) of an element, from its point (3,), both in its frame E, is to point at a place (3,) [m]."""

    element: str
    point_m: Array
    forward: Array
    place_m: Array


Goal = PlaceGoal | AttitudeGoal | LookGoal


@dataclass(frozen=True, eq=False)
class Off:
    """How far a goal is off, and how that goes with its element's motion.

    left : (3,) what is left, in metres or radians
    in_metres : whether that is metres
    turn, shift : (3, 3) what of it a small turn of the element about `point_m` (3,) makes up, and a small shift
    """

    left: Array
    in_metres: bool
    turn: Array
    shift: Array
    point_m: Array


def weigh_goal(goal: Goal, X_WE: Array) -> Off:
    """How far a goal is off with the element's frame at X_WE (4, 4)."""
    R, origin = X_WE[:3, :3], X_WE[:3, 3]
    if isinstance(goal, AttitudeGoal):
        return Off(find_turn(goal.R_WE @ R.T), False, np.eye(3), np.zeros((3, 3)), origin)
    point = R @ goal.point_m + origin
    if isinstance(goal, PlaceGoal):
        return Off(goal.place_m - point, True, np.zeros((3, 3)), np.eye(3), point)
    ahead, way = R @ goal.forward, goal.place_m - point
    far = max(float(np.linalg.norm(way)), 1e-9)
    ahead, way = ahead / np.linalg.norm(ahead), way / far
    across = np.cross(ahead, way)
    sine, cosine = float(np.linalg.norm(across)), float(ahead @ way)
    if sine > 1e-9:
        off = across * (np.arctan2(sine, cosine) / sine)
    else:
        # Straight behind, any way round is as good: the one about its own side.
        off = across if cosine > 0 else np.pi * _find_side(ahead)
    # As its point goes, the way to the place turns.
    swing = _cross_matrix(way) @ (np.eye(3) - np.outer(way, way)) / far
    return Off(off, False, np.eye(3) - np.outer(ahead, ahead), swing, point)


def find_turn(R: Array) -> Array:
    """The rotation vector (3,) of a rotation matrix (3, 3)."""
    axis = np.array([R[2, 1] - R[1, 2], R[0, 2] - R[2, 0], R[1, 0] - R[0, 1]]) / 2
    sine, cosine = float(np.linalg.norm(axis)), (float(np.trace(R)) - 1) / 2
    angle = float(np.arctan2(sine, cosine))
    if sine > 1e-6:
        found: Array = axis * (angle / sine)
        return found
    if cosine > 0:
        return axis
    column = int(np.argmax(np.diag(R)))  # half a turn: the axis is what it leaves
    about = R[:, column] + np.eye(3)[column]
    half_turn: Array = about / np.linalg.norm(about) * np.pi
    return half_turn


def make_turn(vector: Array) -> Array:
    """The rotation matrix (3, 3) of a rotation vector (3,)."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-12:
        return np.eye(3)
    K = _cross_matrix(vector / angle)
    R: Array = np.eye(3) + np.sin(angle) * K + (1 - np.cos(angle)) * K @ K
    return R


def _cross_matrix(v: Array) -> Array:
    return np.array([[0, -v[2], v[1]], [v[2], 0, -v[0]], [-v[1], v[0], 0]])


def _find_side(ahead: Array) -> Array:
    side = np.cross(ahead, np.eye(3)[int(np.abs(ahead).argmin())])
    unit: Array = side / np.linalg.norm(side)
    return unit
