"""What the bodies of an element have in common, which a sum of their volumes counts more than once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..spatial.transforms import Array
from .bodies import join_surfaces
from .boundary import close_holes
from .ray_votes import cross_columns
from .surface import Surface

COLUMNS = 200
"""Rays along the longer side of what is looked through."""


def bound_overlap(surfaces: Sequence[Surface]) -> float:
    """An upper bound of the volume that bodies wound outwards count more than once [m3].

    Parallel rays through the boxes that bodies share: along each ray the length in n bodies counts n - 1 times. Rays
    along the three axes give three figures; the bound is the greatest and the spread between them, and never more than
    the boxes themselves. Holes are closed by fans.
    """
    boxes = [(surface.vertices.min(axis=0), surface.vertices.max(axis=0)) for surface in surfaces]
    shared, most = _share_boxes(surfaces, boxes)
    if shared is None or most <= 0.0:
        return 0.0
    lower, upper = shared
    near = [
        close_holes(surface)[0]
        for surface, (low, high) in zip(surfaces, boxes, strict=True)
        if (low < upper).all() and (high > lower).all()
    ]
    side = float((upper - lower).max()) / COLUMNS
    corners = _take_corners(join_surfaces(tuple(near)), lower, side)
    cells = np.maximum(np.ceil((upper - lower) / side).astype(int), 1)
    found = [_measure_common(corners, cells, axis) * side**3 for axis in range(3)]
    return min(most, 2 * max(found) - min(found))


def _share_boxes(
    surfaces: Sequence[Surface], boxes: list[tuple[Array, Array]]
) -> tuple[tuple[Array, Array] | None, float]:
    """The box around all that bounding boxes share, and the sum of what each smaller one shares with larger ones."""
    order = np.argsort([-float(np.prod(high - low)) for low, high in boxes])
    lower, upper = (np.stack([boxes[i][end] for i in order]) for end in (0, 1))
    lows, highs, most = [], [], 0.0
    for i in range(1, len(surfaces)):
        low, high = np.maximum(lower[:i], lower[i]), np.minimum(upper[:i], upper[i])
        meet = (high > low).all(axis=1)
        if meet.any():
            lows.append(low[meet].min(axis=0))
            highs.append(high[meet].max(axis=0))
            most += float(np.prod((high - low)[meet], axis=1).sum())
    if not lows:
        return None, 0.0
    return (np.min(lows, axis=0), np.max(highs, axis=0)), most


def _take_corners(surface: Surface, origin: Array, side: float) -> Array:
    """(m, 3, 3) corners of the triangles in cells, a cell's middle at whole numbers."""
    corners: Array = (surface.vertices[surface.faces] - origin) / side - 0.5
    return corners


def _measure_common(corners: Array, cells: np.ndarray, axis: int) -> float:
    """Volume in cells that is in several bodies, by rays along one axis through the middles of the cells."""
    across = [int(cells[(axis + turn) % 3]) for turn in (1, 2)]
    keys, heights, signs = cross_columns(corners, axis, [(0, n - 1) for n in across], across[1])
    if not len(keys):
        return 0.0
    order = np.lexsort((heights, keys))
    keys, heights = keys[order], heights[order]
    within = np.cumsum(signs[order])
    first = np.flatnonzero(np.r_[True, keys[1:] != keys[:-1]])
    before = np.r_[0, within[first[1:] - 1]]
    within = within - np.repeat(before, np.diff(np.r_[first, len(keys)]))
    along = np.diff(heights, append=heights[-1])
    along[np.r_[first[1:] - 1, len(keys) - 1]] = 0.0
    return float((np.maximum(within - 1, 0) * along).sum())
