"""Which points of one element face another: rays along the outward normals against signed distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..spatial.transforms import Array
from .partner import Partner

START_S, REACH_S = -0.06, 0.30
"""Rays start a little inside, which forgives small overlap, and end at the widest gap of a disc (shares of s)."""
_STEP_S = 0.015
_OPPOSED = 0.7
_SELF_S = 0.03
_THINNED = 4
"""Of the partner's samples every fourth is enough to tell what lies near it."""


@dataclass(frozen=True, eq=False)
class Facing:
    """Samples that face the partner.

    index : (n,) into the element's samples
    gap_m : (n,) distance along the normal to the partner [m]; negative where they overlap
    met_m : (n, 3) where the rays meet the partner as it is placed, closed up or not
    """

    index: NDArray[np.int64]
    gap_m: Array
    met_m: Array


def find_facing(element: Partner, partner: Partner, size: float, shift: Array) -> Facing:
    """Samples of an element whose outward normal meets the partner, moved by `shift` (3,), at an opposed normal.

    A ray that leaves the element and meets it again before it meets the partner does not count.
    """
    index = _nearby(element, partner, (REACH_S - START_S) * size, shift)
    points, normals = element.samples.points[index], element.samples.normals[index]
    steps = np.arange(START_S, REACH_S + _STEP_S / 2, _STEP_S) * size
    along = points[:, None] + normals[:, None] * steps[:, None]
    there = partner.grid.distances((along - shift).reshape(-1, 3)).reshape(len(index), len(steps))
    first = (there <= 0).argmax(axis=1)
    rows = np.flatnonzero((there <= 0).any(axis=1) & (first > 0))
    here = element.grid.distances(along[rows].reshape(-1, 3)).reshape(len(rows), len(steps))
    blocked = (here < 0) & (steps > _SELF_S * size)
    blocker = np.where(blocked.any(axis=1), blocked.argmax(axis=1), len(steps))
    rows = rows[blocker >= first[rows]]
    k = first[rows]
    before, after = there[rows, k - 1], there[rows, k]
    gaps = steps[k - 1] + (steps[k] - steps[k - 1]) * before / (before - after)
    met = points[rows] + normals[rows] * gaps[:, None]
    opposed = -np.einsum("ij,ij->i", partner.grid.gradients(met - shift), normals[rows]) > _OPPOSED
    return Facing(index[rows][opposed], gaps[opposed], (met - shift)[opposed])


def _nearby(element: Partner, partner: Partner, reach: float, shift: Array) -> NDArray[np.int64]:
    """Samples of an element that lie within reach of its partner, and some a little farther off: rays decide."""
    reach += _THINNED * partner.samples.spacing
    theirs = partner.samples.points[::_THINNED] + shift
    ours = element.samples.points
    box = ((ours >= theirs.min(axis=0) - reach) & (ours <= theirs.max(axis=0) + reach)).all(axis=1)
    index = np.flatnonzero(box)
    if not len(index):
        return index
    low, high = ours[index].min(axis=0) - reach, ours[index].max(axis=0) + reach
    theirs = theirs[((theirs >= low) & (theirs <= high)).all(axis=1)]
    tree = cKDTree(theirs, balanced_tree=False, compact_nodes=False)  # asked once: quick to build counts for more
    distance = tree.query(ours[index], distance_upper_bound=reach)[0]
    return index[np.isfinite(distance)]
