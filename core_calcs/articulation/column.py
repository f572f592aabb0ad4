"""Elements of the column made ready for joints, and the directions along the column between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh.samples import Samples, sample_surface
from ..mesh.surface import Surface
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array
from .distance_grid import DistanceGrid, build_distance_grid

SAMPLES_A_SIZE = 40
"""Samples are s/40 apart, s the size of an element."""
CELLS_A_SIZE = 50
"""Nodes of the distance grid are s/50 apart."""


@dataclass(frozen=True, eq=False)
class ColumnElement:
    """What facets and limits need of an element, in the world of the neutral articulation.

    size : s, the cube root of its volume [m]
    centre : (3,) its centre of volume [m]
    """

    name: str
    size: float
    centre: Array
    samples: Samples
    grid: DistanceGrid


@dataclass(frozen=True, eq=False)
class ColumnAxes:
    """Unit directions (3,) at a joint of the column: towards the head, the animal's left, the back."""

    head: Array
    left: Array
    back: Array


def prepare_element(
    name: str, surface: Surface, volume_m3: float, centre: Array, smallest_neighbour: float | None = None
) -> ColumnElement:
    """Samples and distance grid of an element whose surface is given in the world.

    Parameters
    ----------
    smallest_neighbour : size of its smallest partner [m]: the grid is made fine enough for that one as well

    Raises
    ------
    SkeletonError : the volume is not positive
    """
    if not volume_m3 > 0:
        raise SkeletonError(name, "it encloses no volume, so that its size is not known", "close its surface")
    size = float(np.cbrt(volume_m3))
    finest = size if smallest_neighbour is None else min(size, 2 * smallest_neighbour)
    samples = sample_surface(surface, finest / SAMPLES_A_SIZE)
    return ColumnElement(
        name, size, np.asarray(centre, float), samples, build_distance_grid(surface, finest / CELLS_A_SIZE)
    )


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
