"""Which triangles meet along an edge, and dividing patches of them into two classes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components


def find_neighbours(faces: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Pairs of faces (k, 2) across every edge that exactly two faces share, and whether their windings agree (k,)."""
    start = faces.ravel()
    end = faces[:, (1, 2, 0)].ravel()
    keys = np.minimum(start, end) * (int(faces.max(initial=0)) + 1) + np.maximum(start, end)
    order = np.argsort(keys, kind="stable")
    new = np.r_[True, keys[order[1:]] != keys[order[:-1]], True]
    places = np.flatnonzero(new)
    two = places[:-1][np.diff(places) == 2]
    one, other = order[two], order[two + 1]
    agree: NDArray[np.bool_] = start[one] == end[other]
    return np.stack([one // 3, other // 3], axis=1), agree


def colour_patches(count: int, pairs: NDArray[np.int64], same: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(count,) two classes such that the pairs (k, 2) are of the same class or of different ones, as `same` (k,) says.

    Each item stands twice in a graph, once for each class; items that must be of one class are linked within the two
    halves, the others across. A connected patch then falls into two mirrored components: its larger class is False.
    A patch in which the demands contradict each other stays False.
    """
    one, other, across = pairs[:, 0], pairs[:, 1], np.where(same, 0, count)
    rows, columns = np.concatenate([one, one + count]), np.concatenate([other + across, other + count - across])
    graph = coo_array((np.ones(len(rows), np.int8), (rows, columns)), shape=(2 * count, 2 * count))
    patches, labels = connected_components(graph, directed=False)
    sizes = np.bincount(labels[:count], minlength=patches)
    here, there = sizes[labels[:count]], sizes[labels[count:]]
    second: NDArray[np.bool_] = (here < there) | ((here == there) & (labels[count:] < labels[:count]))
    return second
