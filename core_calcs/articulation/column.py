"""The directions along the column at a joint between two of its elements."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array


@dataclass(frozen=True, eq=False)
class ColumnAxes:
    """Unit directions (3,) at a joint of the column: towards the head, the animal's left, the back."""

    head: Array
    left: Array
    back: Array


_BACKWARDS = -0.7
"""A column that starts more than about 45° off upright towards -x has its head where its tail should be."""


def column_axes(headward: Array, tailward: Array, before: ColumnAxes | None = None) -> ColumnAxes:
    """Axes of the joint between two elements of the column, given their centres (3,).

    Towards the head runs from centre to centre. The animal's left is the world's y where the column starts, and is
    carried on from the joint `before` without twist, so that it stays across the column however that is bent.

    Raises
    ------
    SkeletonError : the centres coincide, or where it starts the column runs along the world's y or towards its -x
    """
    head = np.asarray(headward, float) - np.asarray(tailward, float)
    length = float(np.linalg.norm(head))
    if not length > 0:
        raise SkeletonError("column", "two neighbours have the same centre", "check the table for a copy")
    head = head / length
    if before is None and head[0] < _BACKWARDS:
        # Left and right, back and belly would be taken for each other without a word.
        raise SkeletonError("column", "its head end lies towards the world's -x", "turn the scans: x towards the head")
    left = np.array([0.0, 1.0, 0.0]) if before is None else _turn_least(before.head, head, before.left)
    left = _across(left, head)
    return ColumnAxes(head, left, np.cross(head, left))


def _across(direction: Array, along: Array) -> Array:
    across = direction - along * (along @ direction)
    length = float(np.linalg.norm(across))
    if length < 0.1:
        raise SkeletonError("column", "it runs across the animal, along the world's y", "turn x towards the head")
    unit: Array = across / length
    return unit


def _turn_least(start: Array, end: Array, vector: Array) -> Array:
    """Turn a vector by the smallest rotation that takes one unit direction to another."""
    axis = np.cross(start, end)
    cosine = float(start @ end)
    turned: Array = cosine * vector + np.cross(axis, vector) + axis * (axis @ vector) / max(1 + cosine, 1e-9)
    return turned
