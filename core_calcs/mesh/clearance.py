"""Which of many bodies run into one another, how deep and where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from ..spatial.transforms import Array, apply, invert
from .broad_phase import find_close_pairs
from .clearance_bodies import STEPS_A_CELL, Crowd
from .distance_grid import BAND_CELLS
from .nearest import find_on_triangles

Pairs = NDArray[np.int64]
"""(m, 2) numbers of bodies, the lower one first."""

_FORGIVEN_AROUND = 0.15
"""Overlap that is there at neutral is forgiven within this distance of where it is (share of the smaller body's s)."""
_NODE_REACH = 0.87
"""The nearest node is no farther than so many cells: half a cube's diagonal."""
_PATCHES_AT_ONCE = 1 << 19
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
    """

    keys: NDArray[np.int64]
    allowed_m: Array


NOTHING_FORGIVEN = Baseline(np.empty(0, np.int64), np.empty(0))


@dataclass(frozen=True, eq=False)
class _Inside:
    """Points of bodies inside other bodies.

    points : (k,) number of each point; sides : (k,) which directed pair; depths_m : (k,)
    """

    points: NDArray[np.int64]
    sides: NDArray[np.int64]
    depths_m: Array


def find_overlaps(crowd: Crowd, X_WE: Array, pairs: Pairs, baseline: Baseline = NOTHING_FORGIVEN) -> Overlaps:
    """What runs into each other of some pairs.

    Every point of each body is looked up in the other's distance grid; patches of points that are farther off than they
    are wide are left out unseen, which changes nothing (distance changes by no more than one moves). No place of a
    surface is farther than s/24 from a point: what is less deep than that may be missed. Most of it is not: of
    thousands of grazing pairs of a dog's bones none deeper than s/50 of the larger one (held by the tests).

    Parameters
    ----------
    X_WE : (n, 4, 4) where the frames are that the surfaces were given in
    pairs : to try, of `find_pairs`
    """
    X_WB = X_WE @ crowd.X_EB
    directed = np.concatenate([pairs, pairs[:, ::-1]])
    X_AB = invert(X_WB[directed[:, 1]]) @ X_WB[directed[:, 0]]
    parts = [_find_inside(crowd, X_AB, directed, which) for which in _share_out(crowd, directed)]
    inside = _join(parts)
    forgiven = _look_up(baseline, directed[inside.sides, 1] * len(crowd.points_B) + inside.points)
    beyond = inside.depths_m - forgiven - _SETTLED * crowd.cells_m[directed[inside.sides, 1]]
    which, deepest = _find_deepest(inside.sides % max(len(pairs), 1), beyond)
    points, sides = inside.points[deepest], inside.sides[deepest]
    there = np.einsum("nij,nj->ni", X_AB[sides, :3, :3], crowd.points_B[points]) + X_AB[sides, :3, 3]
    depths = _refine_depths(crowd, directed[sides, 1], there, inside.depths_m[deepest])
    X_W = X_WB[directed[sides, 1]]
    places = np.einsum("nij,nj->ni", X_W[:, :3, :3], there) + X_W[:, :3, 3]
    found = Overlaps(pairs[which], depths, forgiven[deepest], places)
    return found.take(found.beyond_m > 0)


def find_pairs(crowd: Crowd, X_WE: Array) -> Pairs:
    """Pairs whose boxes touch."""
    return find_close_pairs(X_WE @ crowd.X_EB, crowd.middles_B, crowd.halves_m)


def find_baseline(crowd: Crowd, X_WE: Array, pairs: Pairs) -> Baseline:
    """What overlaps in a placement, as what is forgiven in others: at each point the deepest overlap around it."""
    X_WB = X_WE @ crowd.X_EB
    directed = np.concatenate([pairs, pairs[:, ::-1]])
    X_AB = invert(X_WB[directed[:, 1]]) @ X_WB[directed[:, 0]]
    inside = _join([_find_inside(crowd, X_AB, directed, which) for which in _share_out(crowd, directed)])
    order = np.argsort(inside.sides % max(len(pairs), 1), kind="stable")
    owners = (inside.sides % max(len(pairs), 1))[order]
    keys, allowed = [np.empty(0, np.int64)], [np.empty(0)]
    for pair in np.unique(owners):
        own = order[np.searchsorted(owners, pair) : np.searchsorted(owners, pair, side="right")]
        bodies = directed[inside.sides[own], 0]
        R, p = X_WB[bodies, :3, :3], X_WB[bodies, :3, 3]
        places = np.einsum("nij,nj->ni", R, crowd.points_B[inside.points[own]]) + p
        around = _FORGIVEN_AROUND * float(crowd.sizes_m[pairs[pair]].min())
        kept = _thin_out(places, inside.depths_m[own], around / 3)
        for body, other in (pairs[pair], pairs[pair][::-1]):
            points, depths = _spread_depths(
                crowd, X_WB[body], int(body), places[kept], inside.depths_m[own[kept]], around
            )
            keys.append(other * len(crowd.points_B) + points)
            allowed.append(depths)
    flat, depths = np.concatenate(keys), np.concatenate(allowed)
    order = np.argsort(flat)
    return Baseline(flat[order], depths[order])


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


def _share_out(crowd: Crowd, directed: Pairs) -> Iterator[NDArray[np.int64]]:
    """Directed pairs in portions that fit into memory."""
    patches = np.diff(crowd.first_patches)[directed[:, 0]]
    portion = np.cumsum(patches) // _PATCHES_AT_ONCE
    for number in np.unique(portion):
        yield np.flatnonzero(portion == number)


def _find_inside(crowd: Crowd, X_AB: Array, directed: Pairs, which: NDArray[np.int64]) -> _Inside:
    """Points of the first body of directed pairs inside the second."""
    bodies = directed[which, 0]
    patches, owners = _expand(crowd.first_patches[bodies], crowd.first_patches[bodies + 1])
    sides = which[owners]
    near = _may_be_inside(crowd, X_AB, directed, patches, sides)
    patches, sides = patches[near], sides[near]
    points, owners = _expand(crowd.patch_starts[patches], crowd.patch_starts[patches + 1])
    sides = sides[owners]
    nodes = _find_nodes(crowd, X_AB, directed, crowd.points_B[points], sides)
    close = (
        crowd.steps[_flatten(crowd, directed[sides, 1], np.rint(nodes).astype(np.int64))] < _NODE_REACH * STEPS_A_CELL
    )
    points, sides, nodes = points[close], sides[close], nodes[close]
    depths = -_interpolate(crowd, directed[sides, 1], nodes)
    inside = depths > 0
    return _Inside(points[inside], sides[inside], depths[inside])


def _may_be_inside(
    crowd: Crowd, X_AB: Array, directed: Pairs, patches: NDArray[np.int64], sides: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Whether a patch's ball reaches into the other body: first its box, then the nearest node of its grid."""
    others = directed[sides, 1]
    centres = np.einsum("nij,nj->ni", X_AB[sides, :3, :3], crowd.patch_centres_B[patches]) + X_AB[sides, :3, 3]
    beyond = np.maximum(np.abs(centres - crowd.middles_B[others]) - crowd.halves_m[others], 0)
    radii = crowd.patch_radii_m[patches]
    near: NDArray[np.bool_] = np.einsum("ni,ni->n", beyond, beyond) <= radii**2
    index = np.flatnonzero(near)
    others = others[index]
    nodes = (centres[index] - crowd.grid_lowers_m[others]) / crowd.cells_m[others, None]
    inner = np.clip(np.rint(nodes), 0, crowd.shapes[others] - 1)
    away = np.linalg.norm(nodes - inner, axis=1)
    least = crowd.steps[_flatten(crowd, others, inner.astype(np.int64))] / STEPS_A_CELL - away
    near[index] = np.minimum(least, BAND_CELLS - _NODE_REACH) * crowd.cells_m[others] <= radii[index]
    return near


def _find_nodes(crowd: Crowd, X_AB: Array, directed: Pairs, points: Array, sides: NDArray[np.int64]) -> Array:
    """(n, 3) places of points in the other body's grid, in cells; those outside are brought to its rim."""
    others = directed[sides, 1]
    there = np.einsum("nij,nj->ni", X_AB[sides, :3, :3], points) + X_AB[sides, :3, 3]
    nodes = (there - crowd.grid_lowers_m[others]) / crowd.cells_m[others, None]
    rim: Array = np.clip(nodes, 0, crowd.shapes[others] - 1.000001)
    return rim


def _flatten(crowd: Crowd, bodies: NDArray[np.int64], nodes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Index among all nodes of nodes (n, 3) in the bodies' grids."""
    shapes = crowd.shapes[bodies]
    flat: NDArray[np.int64] = (
        crowd.first_nodes[bodies] + (nodes[:, 0] * shapes[:, 1] + nodes[:, 1]) * shapes[:, 2] + nodes[:, 2]
    )
    return flat


def _interpolate(crowd: Crowd, bodies: NDArray[np.int64], nodes: Array) -> Array:
    """Signed distance (n,) at places in the bodies' grids, linear along each axis [m]."""
    lower = nodes.astype(np.int64)
    share = nodes - lower
    first = _flatten(crowd, bodies, lower)
    strides = np.stack([crowd.shapes[bodies, 1] * crowd.shapes[bodies, 2], crowd.shapes[bodies, 2]], axis=1)
    values = np.zeros(len(nodes))
    for i in (0, 1):
        for j in (0, 1):
            for k in (0, 1):
                weight = np.prod(np.where((i, j, k), share, 1 - share), axis=1)
                values += weight * crowd.steps[first + i * strides[:, 0] + j * strides[:, 1] + k]
    return values * crowd.cells_m[bodies] / STEPS_A_CELL


def _refine_depths(crowd: Crowd, bodies: NDArray[np.int64], places_B: Array, depths: Array) -> Array:
    """Exact distances of places inside bodies to the triangles of these."""
    refined = depths.copy()
    for body in np.unique(bodies).tolist():
        surface = crowd.bodies[body].surface_B
        corners = surface.vertices[surface.faces]
        least, most = corners.min(axis=1), corners.max(axis=1)
        for i in np.flatnonzero(bodies == body):
            beyond = np.maximum(np.maximum(least - places_B[i], places_B[i] - most), 0)
            near = corners[np.einsum("ni,ni->n", beyond, beyond) <= (depths[i] + crowd.cells_m[body]) ** 2]
            if len(near):
                feet = find_on_triangles(np.broadcast_to(places_B[i], (len(near), 3)), near)
                refined[i] = np.linalg.norm(feet - places_B[i], axis=1).min()
    return refined


def _expand(starts: NDArray[np.int64], ends: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The whole numbers of many ranges, one after the other, and which range each is of."""
    counts = ends - starts
    owners = np.repeat(np.arange(len(counts)), counts)
    return np.arange(len(owners)) + np.repeat(starts - np.cumsum(counts) + counts, counts), owners


def _join(parts: list[_Inside]) -> _Inside:
    nothing = np.empty(0, np.int64)
    return _Inside(
        np.concatenate([nothing, *(part.points for part in parts)]),
        np.concatenate([nothing, *(part.sides for part in parts)]),
        np.concatenate([np.empty(0), *(part.depths_m for part in parts)]),
    )


def _look_up(baseline: Baseline, keys: NDArray[np.int64]) -> Array:
    """The depth forgiven (n,) at each key."""
    at = np.minimum(np.searchsorted(baseline.keys, keys), max(len(baseline.keys) - 1, 0))
    if not len(baseline.keys):
        return np.zeros(len(keys))
    return np.where(baseline.keys[at] == keys, baseline.allowed_m[at], 0.0)


def _find_deepest(owners: NDArray[np.int64], depths: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The owners of any depth above zero, rising, and the index of the deepest of each."""
    above = np.flatnonzero(depths > 0)
    order = above[np.lexsort((-depths[above], owners[above]))]
    which, first = np.unique(owners[order], return_index=True)
    return which, order[first]
