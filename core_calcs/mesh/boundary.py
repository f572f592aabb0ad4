"""Holes of a surface: finding their edges and closing them for an estimate of volume."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ..spatial.transforms import Array
from .surface import Surface

_MIX = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0xBF58476D1CE4E5B9], np.uint64)
CAP_DOME = 2.0 / 3.0
"""Volume of half a ball over its area times its radius: how far the true skin may bulge out of, or into, a hole."""

SHELL_DOME = 3.0
"""Skin of such a dome on both its sides over the fan's area."""


def is_closed(surface: Surface) -> bool:
    """Whether every edge is met as often in one direction as in the other.

    Each edge is given a number of 64 bits, mixed from its ends, that counts forwards or backwards; the sum is 0 where
    all cancel, and otherwise only by a chance of one in 2^64. No sorting, so that large surfaces stay quick.
    """
    total = np.uint64(0)
    with np.errstate(over="ignore"):
        for start, end in ((0, 1), (1, 2), (2, 0)):
            a, b = surface.faces[:, start].astype(np.uint64), surface.faces[:, end].astype(np.uint64)
            forward = a < b
            mixed = np.minimum(a, b) * _MIX[0] + np.maximum(a, b) * _MIX[1]
            mixed ^= mixed >> np.uint64(31)
            mixed *= _MIX[2]
            mixed ^= mixed >> np.uint64(29)
            total += mixed[forward].sum() - mixed[~forward].sum()
    return bool(total == 0)


def find_open_edges(surface: Surface) -> NDArray[np.int64]:
    """(k, 2) directed edges, of faces, that are met more often one way than the other; none where it is closed."""
    if is_closed(surface):
        return np.empty((0, 2), np.int64)
    start, end = surface.faces.ravel(), surface.faces[:, (1, 2, 0)].ravel()
    n = len(surface.vertices)
    keys = np.minimum(start, end) * n + np.maximum(start, end)
    order = np.argsort(keys)
    keys = keys[order]
    places = np.flatnonzero(np.r_[True, keys[1:] != keys[:-1]])
    balance = np.add.reduceat(np.where(start < end, 1, -1)[order], places)
    odd = balance != 0
    low, high = np.divmod(keys[places[odd]], n)
    forward = balance[odd] > 0
    edges = np.stack([np.where(forward, low, high), np.where(forward, high, low)], axis=1)
    return np.repeat(edges, np.abs(balance[odd]), axis=0)


def close_holes(surface: Surface) -> tuple[Surface, float]:
    """The surface with a fan of triangles over every hole, and how far that may be off [m3].

    Each connected rim is joined to its mean point. The error is that of a bulge of half a ball over each fan; closed
    surfaces come back as they are, with error 0.
    """
    capped, areas, radii = _fan_holes(surface)
    return capped, float(CAP_DOME * (areas * radii).sum())


def bound_shell_error(surface: Surface, wall_m: float) -> float:
    """How far the metal behind a wall may be off for the sake of holes closed by fans [m3].

    Over each fan a bulge of half a ball at most: its whole volume; or the wall under its skin, twice the fan, and the
    wall on its other side, where the part is thin there.
    """
    _, areas, radii = _fan_holes(surface)
    return float((areas * np.minimum(CAP_DOME * radii, SHELL_DOME * wall_m)).sum())


def _fan_holes(surface: Surface) -> tuple[Surface, Array, Array]:
    """The surface closed by fans, and of each hole (h,) the fan's area and the greatest distance from its middle."""
    edges = find_open_edges(surface)
    if not len(edges):
        return surface, np.zeros(0), np.zeros(0)
    used, flat = np.unique(edges, return_inverse=True)
    rim = flat.reshape(-1, 2)
    graph = coo_array((np.ones(len(rim), np.int8), (rim[:, 0], rim[:, 1])), shape=(len(used), len(used)))
    count, labels = connected_components(graph, directed=False)
    points = surface.vertices[used]
    sizes = np.bincount(labels, minlength=count)
    middles = np.stack([np.bincount(labels, points[:, axis], count) / sizes for axis in range(3)], axis=1)
    tips = len(surface.vertices) + labels[rim[:, 0]]
    fans = np.stack([edges[:, 1], edges[:, 0], tips], axis=1)
    capped = Surface(np.concatenate([surface.vertices, middles]), np.concatenate([surface.faces, fans]))
    a, b, c = (capped.vertices[column] for column in fans.T)
    halves = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    areas: Array = np.bincount(labels[rim[:, 0]], halves, count).astype(float)
    radii: Array = np.zeros(count)
    np.maximum.at(radii, labels, np.linalg.norm(points - middles[labels], axis=1))
    return capped, areas, radii
