"""Which of many oriented boxes can touch at all: swept along an axis, then tried for an axis that parts them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array

Pairs = NDArray[np.int64]
"""(m, 2) numbers of bodies, the lower one first."""

_CHUNK = 1 << 16
_PARALLEL = 1e-9
"""Added to every cosine: edges that run alike have no axis of their own between them, and rounding would make one."""


def find_close_pairs(X_WB: Array, middles_B: Array, halves_m: Array) -> Pairs:
    """(m, 2) pairs i < j, in rising order, of boxes that touch.

    Sort and sweep along the world's axis in which the boxes lie farthest apart, then their boxes along the other two,
    then the separating axes of two oriented boxes (Gottschalk, Lin & Manocha, SIGGRAPH 1996). Cost: n log n for the
    sorting, and in proportion to the pairs that overlap along the axis swept.

    Parameters
    ----------
    X_WB : (n, 4, 4) frames of the boxes; middles_B, halves_m : (n, 3) middle and half sides in them
    """
    R = X_WB[:, :3, :3]
    middles = np.einsum("nij,nj->ni", R, middles_B) + X_WB[:, :3, 3]
    reach = np.einsum("nij,nj->ni", np.abs(R), halves_m)
    pairs = _sweep(middles - reach, middles + reach)
    kept = [
        part[_may_touch(R, middles, halves_m, part)]
        for part in (pairs[start : start + _CHUNK] for start in range(0, len(pairs), _CHUNK))
    ]
    found = np.sort(np.concatenate([np.empty((0, 2), np.int64), *kept]), axis=1)
    return found[np.lexsort((found[:, 1], found[:, 0]))]


def _sweep(lower: Array, upper: Array) -> Pairs:
    """(m, 2) pairs of upright boxes that overlap."""
    axis = int(np.argmax(np.ptp(lower + upper, axis=0) / np.maximum((upper - lower).mean(axis=0), 1e-300)))
    order = np.argsort(lower[:, axis], kind="stable")
    ends = np.searchsorted(lower[order, axis], upper[order, axis], side="right")
    counts = np.maximum(ends - np.arange(len(order)) - 1, 0)
    first = np.repeat(np.arange(len(order)), counts)
    second = first + 1 + np.arange(len(first)) - np.repeat(np.cumsum(counts) - counts, counts)
    i, j = order[first], order[second]
    meet = ((lower[i] <= upper[j]) & (lower[j] <= upper[i])).all(axis=1)
    return np.stack([i[meet], j[meet]], axis=1)


def _may_touch(R: Array, middles: Array, halves: Array, pairs: Pairs) -> NDArray[np.bool_]:
    """Whether no axis parts two boxes: those of their faces, and those at right angles to an edge of each."""
    i, j = pairs.T
    C = np.swapaxes(R[i], -1, -2) @ R[j]
    between = np.einsum("nij,ni->nj", R[i], middles[j] - middles[i])
    a, b, D = halves[i], halves[j], np.abs(C) + _PARALLEL
    touch: NDArray[np.bool_] = (np.abs(between) <= a + np.einsum("nij,nj->ni", D, b)).all(axis=1)
    across = np.abs(np.einsum("nij,ni->nj", C, between))
    touch &= (across <= b + np.einsum("nij,ni->nj", D, a)).all(axis=1)
    for k in range(3):
        k1, k2 = (k + 1) % 3, (k + 2) % 3
        for m in range(3):
            m1, m2 = (m + 1) % 3, (m + 2) % 3
            apart = np.abs(between[:, k2] * C[:, k1, m] - between[:, k1] * C[:, k2, m])
            reach = a[:, k1] * D[:, k2, m] + a[:, k2] * D[:, k1, m] + b[:, m1] * D[:, k, m2] + b[:, m2] * D[:, k, m1]
            touch &= apart <= reach
    return touch
