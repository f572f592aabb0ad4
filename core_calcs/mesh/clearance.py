"""Which of many bodies run into one another, how deep and where."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from ..spatial.transforms import Array, apply, invert
from .broad_phase import Pairs, find_close_pairs
from .clearance_bodies import Crowd
from .penetration import Directed, Inside, direct_bodies, direct_pairs, find_inside, measure_distances, refine_depths

_FORGIVEN_AROUND = 0.15
"""Overlap that is there at neutral is forgiven within this distance of where it is (share of the smaller body's s)."""
_DISTANCES_AT_ONCE = 1 << 22
_SETTLED = 0.02
"""Overlap beyond what is forgiven that is let be (share of a grid's cell): rounding, where nothing has moved."""


@dataclass(frozen=True, eq=False)
class Overlaps:
    """Bodies that run into each other, the deepest place of each pair.

    pairs : (m, 2); depths_m : (m,) how far a point of the one is below the surface of the other
    forgiven_m : (m,) of that, what was there at neutral around that point
    places_W : (m, 3) that point
    """

    pairs: Pairs
    depths_m: Array
    forgiven_m: Array
    places_W: Array

    @property
    def beyond_m(self) -> Array:
        """(m,) how much deeper than at neutral."""
        return self.depths_m - self.forgiven_m

    def take(self, which: NDArray[np.bool_] | NDArray[np.int64]) -> Overlaps:
        """Some of the pairs."""
        return Overlaps(self.pairs[which], self.depths_m[which], self.forgiven_m[which], self.places_W[which])


@dataclass(frozen=True, eq=False)
class Baseline:
    """The overlap of a placement that is taken for granted.

    keys : (k,) rising: number of the body that is run into × number of all points + number of the point
    allowed_m : (k,) depth of that point that is forgiven
    X_WB : (n, 4, 4) where the bodies stood
    pairs : (n, n) whether two overlapped
    """

    keys: NDArray[np.int64]
    allowed_m: Array
    X_WB: Array
    pairs: NDArray[np.bool_]


NOTHING_FORGIVEN = Baseline(np.empty(0, np.int64), np.empty(0), np.empty((0, 4, 4)), np.empty((0, 0), bool))


def find_overlaps(crowd: Crowd, X_WE: Array, pairs: Pairs, baseline: Baseline = NOTHING_FORGIVEN) -> Overlaps:
    """What runs into each other of some pairs.

    Every point of each body is looked up in the other's distance grid. No place of a surface is farther than s/24 from
    a point: what is less deep than that may be missed. Most of it is not: of thousands of grazing pairs of a dog's
    bones none deeper than s/50 of the larger one (held by the tests).

    Parameters
    ----------
    X_WE : (n, 4, 4) where the frames are that the surfaces were given in
    pairs : to try, of `find_pairs`
    """
    X_WB = X_WE @ crowd.X_EB
    directed = direct_pairs(crowd, X_WB, pairs)
    inside = find_inside(crowd, directed)
    others = directed.others[inside.sides]
    forgiven = _find_forgiven(crowd, directed, inside, baseline)
    beyond = inside.depths_m - forgiven - _SETTLED * crowd.cells_m[others]
    which, deepest = _find_deepest(inside.sides, beyond, len(pairs))
    others, X_AB = others[deepest], directed.X_AB[inside.sides[deepest]]
    there = _move_points(X_AB, crowd.points_B[inside.points[deepest]])
    depths = refine_depths(crowd, others, there, inside.depths_m[deepest])
    found = Overlaps(pairs[which], depths, forgiven[deepest], _move_points(X_WB[others], there))
    return found.take(found.beyond_m > 0)


def find_pairs(crowd: Crowd, X_WE: Array) -> Pairs:
    """Pairs whose boxes touch."""
    return find_close_pairs(X_WE @ crowd.X_EB, crowd.middles_B, crowd.halves_m)


def find_baseline(crowd: Crowd, X_WE: Array, pairs: Pairs) -> Baseline:
    """What overlaps in a placement, as what is forgiven in others: at each point the deepest overlap around it."""
    X_WB = X_WE @ crowd.X_EB
    directed = direct_pairs(crowd, X_WB, pairs)
    inside = find_inside(crowd, directed)
    order = np.argsort(inside.sides % max(len(pairs), 1), kind="stable")
    owners = (inside.sides % max(len(pairs), 1))[order]
    keys, allowed = [np.empty(0, np.int64)], [np.empty(0)]
    overlap = np.zeros((len(X_WB),) * 2, bool)
    for pair in np.unique(owners):
        own = order[np.searchsorted(owners, pair) : np.searchsorted(owners, pair, side="right")]
        places = _move_points(X_WB[directed.bodies[inside.sides[own]]], crowd.points_B[inside.points[own]])
        around = _FORGIVEN_AROUND * float(crowd.sizes_m[pairs[pair]].min())
        kept = _thin_out(places, inside.depths_m[own], around / 3)
        for body, other in (pairs[pair], pairs[pair][::-1]):
            overlap[body, other] = True
            points, depths = _spread_depths(
                crowd, X_WB[body], int(body), places[kept], inside.depths_m[own[kept]], around
            )
            keys.append(other * len(crowd.points_B) + points)
            allowed.append(depths)
    flat, depths = np.concatenate(keys), np.concatenate(allowed)
    order = np.argsort(flat)
    return Baseline(flat[order], depths[order], X_WB, overlap)


def _spread_depths(
    crowd: Crowd, X_WB: Array, body: int, places_W: Array, depths_m: Array, around: float
) -> tuple[NDArray[np.int64], Array]:
    """Points of a body near places of overlap, and the deepest overlap around each."""
    first, end = crowd.patch_starts[crowd.first_patches[[body, body + 1]]]
    places = apply(invert(X_WB), places_W)
    points = crowd.points_B[first:end]
    box = (points >= places.min(axis=0) - around) & (points <= places.max(axis=0) + around)
    near = np.flatnonzero(box.all(axis=1))
    depths = np.zeros(len(near))
    for part in np.array_split(np.arange(len(near)), len(near) * len(places) // _DISTANCES_AT_ONCE + 1):
        within = cdist(points[near[part]], places) <= around
        depths[part] = np.where(within, depths_m, 0.0).max(axis=1, initial=0.0)
    return first + near[depths > 0], depths[depths > 0]


def _thin_out(places: Array, depths: Array, side: float) -> NDArray[np.int64]:
    """Which places are the deepest of the cube that they lie in."""
    cubes = np.floor((places - places.min(axis=0)) / side).astype(np.int64)
    order = np.lexsort((-depths, *cubes.T))
    change = (np.diff(cubes[order], axis=0) != 0).any(axis=1)
    return order[np.r_[True, change]]


def _find_forgiven(crowd: Crowd, directed: Directed, inside: Inside, baseline: Baseline) -> Array:
    """Of the depth of each point (k,) what counts as there before [m].

    The greater of two: the deepest overlap there was around that point of its own body; and what of its depth lies
    within the part of the other that its own body took up. The one is right where a fault of the point's body made the
    two overlap, the other where it was one of the other's, or of how the two were placed, and nothing tells which.
    """
    if not len(baseline.keys):
        return np.zeros(len(inside.points))
    bodies, others = directed.bodies[inside.sides], directed.others[inside.sides]
    forgiven = _look_up(baseline, others * len(crowd.points_B) + inside.points)
    deep = np.flatnonzero(baseline.pairs[bodies, others] & (forgiven < inside.depths_m))
    # Where a point has got to in the other, seen from where its own body stood to that: in the body's own grid.
    X_BA = invert(baseline.X_WB[directed.bodies]) @ baseline.X_WB[directed.others]
    itself = direct_bodies(crowd, directed.bodies, directed.bodies, X_BA @ directed.X_AB)
    away = measure_distances(crowd, itself, inside.points[deep], inside.sides[deep])
    forgiven[deep] = np.maximum(forgiven[deep], inside.depths_m[deep] - np.maximum(away, 0))
    return forgiven


def _look_up(baseline: Baseline, keys: NDArray[np.int64]) -> Array:
    """The depth forgiven (n,) at each key."""
    at = np.minimum(np.searchsorted(baseline.keys, keys), len(baseline.keys) - 1)
    return np.where(baseline.keys[at] == keys, baseline.allowed_m[at], 0.0)


def _find_deepest(sides: NDArray[np.int64], depths: Array, pairs: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The pairs of any depth above zero, rising, and the index of the deepest of each; sides : rising."""
    if not len(sides):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    starts = np.flatnonzero(np.r_[True, np.diff(sides) > 0])
    peaks = np.repeat(np.maximum.reduceat(depths, starts), np.diff(np.r_[starts, len(sides)]))
    above = np.flatnonzero((depths > 0) & (depths == peaks))
    order = above[np.lexsort((-depths[above], sides[above] % pairs))]
    which, first = np.unique(sides[order] % pairs, return_index=True)
    return which, order[first]


def _move_points(X: Array, points: Array) -> Array:
    """Points (n, 3), each by a transform (n, 4, 4) of its own."""
    moved: Array = np.einsum("nij,nj->ni", X[:, :3, :3], points) + X[:, :3, 3]
    return moved
