"""Holes of a surface: finding their edges and closing them for an estimate of volume."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from .surface import Surface

CAP_DOME = 2.0 / 3.0
"""Volume of half a ball over its area times its radius: how far the true skin may bulge out of, or into, a hole."""


def find_open_edges(surface: Surface) -> NDArray[np.int64]:
    """(k, 2) directed edges, of faces, that are met more often one way than the other; none where it is closed."""
    start, end = surface.faces.ravel(), surface.faces[:, (1, 2, 0)].ravel()
    n = len(surface.vertices)
    keys = np.minimum(start, end) * n + np.maximum(start, end)
    order = np.argsort(keys)
    keys = keys[order]
    places = np.flatnonzero(np.r_[True, keys[1:] != keys[:-1]]) if len(keys) else np.empty(0, np.int64)
    balance = np.add.reduceat(np.where(start < end, 1, -1)[order], places) if len(keys) else places
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
    edges = find_open_edges(surface)
    if not len(edges):
        return surface, 0.0
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
    areas = np.bincount(labels[rim[:, 0]], np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2, count)
    radii = np.zeros(count)
    np.maximum.at(radii, labels, np.linalg.norm(points - middles[labels], axis=1))
    return capped, float(CAP_DOME * (areas * radii).sum())
