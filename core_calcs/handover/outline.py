"""Points spread over the surfaces, for the faint picture of the skeleton behind the plan and the side view."""

from __future__ import annotations

import math

import numpy as np

from ..mesh.surface import Surface
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array, apply

CELLS_ACROSS = 600
"""The picture's cells along the longest side of the skeleton."""

_MOST_POINTS = 20_000


def cell_size(skeleton: Skeleton) -> float:
    """Size of the picture's cells [m], from the bounding boxes in the neutral articulation."""
    corners = np.concatenate(
        [
            apply(element.X_WE, box_corners(element.solid.lower_m, element.solid.upper_m))
            for element in skeleton.elements
        ]
    )
    return float(np.ptp(corners, axis=0).max()) / CELLS_ACROSS or 1e-3


def box_corners(lower: Array, upper: Array) -> Array:
    """(8, 3) the corners of a box."""
    ends = np.stack([lower, upper])
    at = np.indices((2, 2, 2)).reshape(3, -1).T
    corners: Array = ends[at, [0, 1, 2]]
    return corners


def sample_surface(surface: Surface, cell_m: float) -> Array:
    """(k, 3) points spread evenly over a surface, about two to a cell's area; the same every time."""
    corners = surface.vertices[surface.faces]
    sides = corners[:, 1:] - corners[:, :1]
    areas = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1) / 2
    total = float(areas.sum())
    if not total > 0:
        return np.empty((0, 3))
    count = min(_MOST_POINTS, max(12, math.ceil(2 * total / cell_m**2)))
    chance = np.random.default_rng(count)
    steps = (np.arange(count) + chance.random(count)) / count
    chosen = np.minimum(np.searchsorted(np.cumsum(areas), steps * total), len(areas) - 1)
    u, v = chance.random((2, count))
    over = u + v > 1
    u, v = np.where(over, 1 - u, u), np.where(over, 1 - v, v)
    points: Array = corners[chosen, 0] + u[:, None] * sides[chosen, 0] + v[:, None] * sides[chosen, 1]
    return points
