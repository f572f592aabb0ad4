"""Points of bodies inside other bodies, all pairs at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array, invert
from .bodies import winding_number
from .broad_phase import Pairs
from .clearance_bodies import STEPS_A_CELL, Crowd
from .distance_grid import BAND_CELLS
from .nearest import find_on_triangles
from .surface import Surface

Index = NDArray[np.int64]

_NODE_REACH = 0.87
"""The nearest node is no farther than so many cells: half a cube's diagonal."""
_CUT_OFF = 0.01
"""Nearer to the end of a grid's band than so many cells, a distance is cut off."""
_SHALLOW = 0.5
"""Places that the grid has less than so many cells inside may be outside."""
_PATCHES_AT_ONCE = 1 << 19


@dataclass(frozen=True, eq=False)
class Inside:
    """Points of bodies inside other bodies.

    points : (k,) number of each point; sides : (k,) which directed pair, rising; depths_m : (k,)
    """

    points: Index
    sides: Index
    depths_m: Array


@dataclass(frozen=True, eq=False)
class Directed:
    """Pairs of bodies, each one way: points of the first in the grid of the second.

    bodies, others : (m,) numbers of the first and of the second
    X_AB : (m, 4, 4) from the first's frame to the second's
    turns, offsets : (m, 3, 3), (m, 3): place in the second's grid, in cells, = turn @ point of the first + offset
    """

    bodies: Index
    others: Index
    X_AB: Array
    turns: Array
    offsets: Array


def direct_pairs(crowd: Crowd, X_WB: Array, pairs: Pairs) -> Directed:
    """Both ways of m pairs of bodies that stand at X_WB (n, 4, 4): pair i again as i + m the other way round."""
    bodies, others = np.concatenate([pairs, pairs[:, ::-1]]).T
    return direct_bodies(crowd, bodies, others, invert(X_WB[others]) @ X_WB[bodies])


def direct_bodies(crowd: Crowd, bodies: Index, others: Index, X_AB: Array) -> Directed:
    """Bodies (m,), each held against one other (m,), which may be itself elsewhere."""
    cells = crowd.cells_m[others, None]
    turns, offsets = X_AB[:, :3, :3] / cells[:, None], (X_AB[:, :3, 3] - crowd.grid_lowers_m[others]) / cells
    return Directed(bodies, others, X_AB, turns, offsets)


def find_inside(crowd: Crowd, directed: Directed) -> Inside:
    """Every point of a first body inside the second, by the second's distance grid.

    Patches of points that are farther off than they are wide are left out unseen, which changes nothing (distance
    changes by no more than one moves).
    """
    parts = [_find_part(crowd, directed, sides) for sides in _share_out(crowd, directed)]
    nothing = np.empty(0, np.int64)
    return Inside(
        np.concatenate([nothing, *(part.points for part in parts)]),
        np.concatenate([nothing, *(part.sides for part in parts)]),
        np.concatenate([np.empty(0), *(part.depths_m for part in parts)]),
    )


def measure_distances(crowd: Crowd, directed: Directed, points: Index, sides: Index) -> Array:
    """Signed distance (n,) of points of the first bodies to the second [m]; sides : (n,) rising, which pair each is of.

    Infinite where it is not known: where the second's grid is cut off.
    """
    others = directed.others[sides]
    nodes = _find_nodes(directed, crowd.points_B[points], sides)
    np.clip(nodes, 0, crowd.shapes[others].T - 1.000001, out=nodes)
    distances = _interpolate(crowd, others, nodes)
    return np.where(distances < (BAND_CELLS - _CUT_OFF) * crowd.cells_m[others], distances, np.inf)


def _share_out(crowd: Crowd, directed: Directed) -> Iterator[Index]:
    """Directed pairs in portions that fit into memory."""
    patches = np.diff(crowd.first_patches)[directed.bodies]
    portion = np.cumsum(patches) // _PATCHES_AT_ONCE
    for number in np.unique(portion):
        yield np.flatnonzero(portion == number)


def _find_part(crowd: Crowd, directed: Directed, which: Index) -> Inside:
    bodies = directed.bodies[which]
    patches, owners = _expand(crowd.first_patches[bodies], crowd.first_patches[bodies + 1])
    sides = which[owners]
    near = _may_be_inside(crowd, directed, patches, sides)
    patches, sides = patches[near], sides[near]
    points, owners = _expand(crowd.patch_starts[patches], crowd.patch_starts[patches + 1])
    sides = sides[owners]
    others = directed.others[sides]
    nodes = _find_nodes(directed, crowd.points_B[points], sides)
    # Whatever lies outside the grid is brought to its rim, where it is outside the body as well.
    np.clip(nodes, 0, crowd.shapes[others].T - 1.000001, out=nodes)
    nearest = crowd.steps[_flatten(crowd, others, np.rint(nodes).astype(np.int64))]
    close = np.flatnonzero(nearest < _NODE_REACH * STEPS_A_CELL)
    points, sides, others = points[close], sides[close], others[close]
    depths = -_interpolate(crowd, others, nodes[:, close])
    inside = np.flatnonzero(depths > 0)
    return Inside(points[inside], sides[inside], depths[inside])


def _may_be_inside(crowd: Crowd, directed: Directed, patches: Index, sides: Index) -> Index:
    """Which patches' balls reach into the other body: first its box, then the nearest node of its grid."""
    nodes, others = _find_nodes(directed, crowd.patch_centres_B[patches], sides), directed.others
    cells = crowd.cells_m[others]
    middles = (crowd.middles_B - crowd.grid_lowers_m)[others] / cells[:, None]
    halves = crowd.halves_m[others] / cells[:, None]
    radii = crowd.patch_radii_m[patches] / cells[sides]
    beyond = np.maximum(np.abs(nodes - middles[sides].T) - halves[sides].T, 0)
    near = np.flatnonzero(_square(beyond) <= radii**2)
    nodes, bodies = nodes[:, near], others[sides[near]]
    inner = np.clip(np.rint(nodes), 0, crowd.shapes[bodies].T - 1)
    away = np.sqrt(_square(nodes - inner))
    least = crowd.steps[_flatten(crowd, bodies, inner.astype(np.int64))] / STEPS_A_CELL - away
    return near[np.minimum(least, BAND_CELLS - _NODE_REACH) <= radii[near]]


def _find_nodes(directed: Directed, points_B: Array, sides: Index) -> Array:
    """(3, n) places of points (n, 3) in the other body's grid, in cells; sides : (n,) rising."""
    nodes = np.empty((3, len(points_B)))
    ends = np.r_[np.flatnonzero(np.diff(sides)) + 1, len(sides)].tolist() if len(sides) else []
    start = 0
    for end in ends:
        side = sides[start]
        np.matmul(directed.turns[side], points_B[start:end].T, out=nodes[:, start:end])
        nodes[:, start:end] += directed.offsets[side, :, None]
        start = end
    return nodes


def _flatten(crowd: Crowd, bodies: Index, nodes: Index) -> Index:
    """Index among all nodes of nodes (3, n) in the bodies' grids."""
    _, along_y, along_z = crowd.shapes.T
    flat: Index = (nodes[0] * along_y[bodies] + nodes[1]) * along_z[bodies] + nodes[2] + crowd.first_nodes[bodies]
    return flat


def _interpolate(crowd: Crowd, bodies: Index, nodes: Array) -> Array:
    """Signed distance (n,) at places (3, n) in the bodies' grids, linear along each axis [m]."""
    lower = nodes.astype(np.int64)
    x, y, z = nodes - lower
    first = _flatten(crowd, bodies, lower)
    _, along_y, along_z = crowd.shapes.T
    step_y = along_z[bodies]
    step_x = step_y * along_y[bodies]

    def along_one(start: Index) -> Array:
        near, far = crowd.steps[start].astype(float), crowd.steps[start + 1]
        between: Array = near + z * (far - near)
        return between

    def along_two(start: Index) -> Array:
        near, far = along_one(start), along_one(start + step_y)
        between: Array = near + y * (far - near)
        return between

    near, far = along_two(first), along_two(first + step_x)
    values: Array = (near + x * (far - near)) * (crowd.cells_m / STEPS_A_CELL)[bodies]
    return values


def refine_depths(crowd: Crowd, bodies: Index, places_B: Array, depths: Array) -> Array:
    """Exact distances of places (n, 3) inside bodies (n,) to the triangles of these; depths : about, to a cell.

    Less than zero where a place is outside after all: between its nodes the grid is linear, and a surface is not.
    """
    refined = depths.copy()
    for i, body in enumerate(bodies.tolist()):
        surface, place = crowd.bodies[body].surface_B, places_B[i]
        near = surface.faces[_reach_into(surface, place, depths[i] + crowd.cells_m[body])]
        if len(near):
            corners = surface.vertices[near]
            offsets = place - find_on_triangles(np.broadcast_to(place, (len(near), 3)), corners)
            away = np.linalg.norm(offsets, axis=1)
            refined[i] = away.min()
            shallow = depths[i] < _SHALLOW * crowd.cells_m[body]
            if shallow and _looks_outside(corners, offsets, away) and winding_number(surface, place[None])[0] < 0.5:
                refined[i] = -refined[i]
    return refined


def _looks_outside(corners: Array, offsets: Array, away: Array) -> bool:
    """Whether a place is in front of the nearest of triangles (m, 3, 3), at offsets (m, 3) of lengths (m,) from them.

    Of several that are as near, at an edge or a corner, that one tells which is faced most squarely.
    """
    tied = np.flatnonzero(away <= away.min() * (1 + 1e-9))
    a, b, c = np.moveaxis(corners[tied], 1, 0)
    normals = np.cross(b - a, c - a)
    lengths = np.maximum(np.linalg.norm(normals, axis=1), np.finfo(float).tiny)
    squarely = np.einsum("ij,ij->i", normals, offsets[tied]) / lengths
    return bool(squarely[np.argmax(np.abs(squarely))] > 0)


def _reach_into(surface: Surface, place: Array, reach: float) -> Index:
    """Triangles that may reach into a cube of half side `reach` about a place.

    Those do not of which all three corners lie beyond one and the same of its faces (outcodes, as lines are clipped).
    """
    beyond = np.zeros(len(surface.vertices), np.uint8)
    for axis in range(3):
        along = surface.vertices[:, axis]
        beyond |= (along < place[axis] - reach).view(np.uint8) << (2 * axis)
        beyond |= (along > place[axis] + reach).view(np.uint8) << (2 * axis + 1)
    a, b, c = surface.faces.T
    return np.flatnonzero((beyond[a] & beyond[b] & beyond[c]) == 0)


def _expand(starts: Index, ends: Index) -> tuple[Index, Index]:
    """The whole numbers of many ranges, one after the other, and which range each is of."""
    counts = ends - starts
    owners = np.repeat(np.arange(len(counts)), counts)
    return np.arange(len(owners)) + np.repeat(starts - np.cumsum(counts) + counts, counts), owners


def _square(vectors: Array) -> Array:
    """(n,) squared lengths of vectors (3, n)."""
    square: Array = vectors[0] ** 2 + vectors[1] ** 2 + vectors[2] ** 2
    return square
