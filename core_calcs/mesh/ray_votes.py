"""Whether points are inside a surface: by rays in the six directions of the axes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array
from .surface import Surface

_ASIDE = (1.37e-4, 2.11e-4)
"""The rays are moved aside by so much of a cell, that none runs along an edge of the mesh."""


def lie_inside(
    surface: Surface, origin: Array, side: float, cells: NDArray[np.int64], closed: bool = False
) -> NDArray[np.bool_]:
    """Whether the middles (n,) of cells (n, 3) of a grid are inside: the winding number is more than a half.

    The winding number is the mean of those counted along the rays from the point up and down the three axes, so that
    a small hole in the surface is outvoted; its sign does not matter, so that a surface may be inside out.

    Parameters
    ----------
    origin, side : of the grid: cell (i, j, k) has its middle at origin + (i + ½, j + ½, k + ½) side
    closed : the surface has no hole, so that all rays agree: those along one axis are asked alone, but where they run
        through an edge
    """
    if not len(cells):
        return np.zeros(0, bool)
    corners = (surface.vertices[surface.faces] - origin) / side - 0.5
    windings, left = _count_along(corners, cells, 0)
    doubtful = np.flatnonzero(left != 0) if closed else np.arange(len(cells))
    windings[doubtful] /= 3
    for axis in (1, 2):
        if len(doubtful):
            windings[doubtful] += _count_along(corners, cells[doubtful], axis)[0] / 3
    inside: NDArray[np.bool_] = np.abs(windings) > 0.5
    return inside


def _count_along(corners: Array, cells: NDArray[np.int64], axis: int) -> tuple[Array, NDArray[np.int64]]:
    """Mean (n,) of the winding numbers from below and from above along one axis; corners (m, 3, 3) in cells.

    And what is left of the winding number (n,) at the end of each ray: 0 where it met no hole.
    """
    across, width = (cells[:, (axis + 1) % 3], cells[:, (axis + 2) % 3]), int(cells[:, (axis + 2) % 3].max()) + 1
    own = across[0] * width + across[1]
    keys, heights, signs = cross_columns(corners, axis, [(int(q.min()), int(q.max())) for q in across], width)
    asked = np.isin(keys, own)
    all_keys = np.concatenate([keys[asked], own])
    all_heights = np.concatenate([heights[asked], cells[:, axis]])
    steps = np.concatenate([signs[asked], np.zeros(len(own), np.int64)])
    order = np.lexsort((all_heights, all_keys))
    below = np.cumsum(steps[order])
    columns = all_keys[order]
    first = np.flatnonzero(np.r_[True, columns[1:] != columns[:-1]])
    last = np.r_[first[1:], len(columns)] - 1
    before = np.r_[0, below[last[:-1]]]
    column = np.cumsum(np.r_[False, columns[1:] != columns[:-1]])
    mean, left = np.empty(len(order)), np.empty(len(order), np.int64)
    left[order] = (below[last] - before)[column]
    # Up to here from below, and from here to the top with the other sign: half of each.
    mean[order] = (below - before[column]) - left[order] / 2
    start = len(steps) - len(own)
    return mean[start:], left[start:]


def cross_columns(
    corners: Array, axis: int, ranges: list[tuple[int, int]], width: int
) -> tuple[NDArray[np.int64], Array, NDArray[np.int64]]:
    """Where triangles cross columns of cells: key of the column, height, and 1 where a ray enters on its way up.

    Parameters
    ----------
    ranges : least and greatest number of the columns asked for, in the two directions across
    """
    flat = [corners[:, :, (axis + turn) % 3] + _ASIDE[turn - 1] for turn in (1, 2)]
    low = [
        np.maximum(np.ceil(q.min(axis=1)), least).astype(np.int64) for q, (least, _) in zip(flat, ranges, strict=True)
    ]
    high = [
        np.minimum(np.floor(q.max(axis=1)), most).astype(np.int64) for q, (_, most) in zip(flat, ranges, strict=True)
    ]
    count = [np.maximum(end - start + 1, 0) for start, end in zip(low, high, strict=True)]
    each = count[0] * count[1]
    triangle = np.repeat(np.arange(len(corners)), each)
    k = np.arange(len(triangle)) - np.repeat(np.cumsum(each) - each, each)
    u, v = low[0][triangle] + k // count[1][triangle], low[1][triangle] + k % count[1][triangle]
    U, V, W = flat[0][triangle], flat[1][triangle], corners[triangle, :, axis]
    weights = np.stack(
        [
            (U[:, j] - U[:, i]) * (v - V[:, i]) - (V[:, j] - V[:, i]) * (u - U[:, i])
            for i, j in ((1, 2), (2, 0), (0, 1))
        ],
        axis=1,
    )
    hit = (weights > 0).all(axis=1) | (weights < 0).all(axis=1)
    weights = weights[hit]
    total = weights.sum(axis=1)
    heights = (weights * W[hit]).sum(axis=1) / total
    return u[hit] * width + v[hit], heights, np.where(total > 0, -1, 1)
