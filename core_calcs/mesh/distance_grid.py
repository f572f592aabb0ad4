"""Signed distance to a closed surface on a grid: exact near the surface, right in sign everywhere."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, map_coordinates, maximum_filter

from ..spatial.transforms import Array, apply, invert
from .samples import sample_surface
from .surface import Surface

BAND_CELLS = 3.5
"""Beyond this many cells from the surface the distance is cut off: only its sign is kept."""
_MOST_CELLS = 8_000_000
_REFINED_CELLS = 2.5
_STEPS = np.vstack([sign * step for step in np.eye(3) for sign in (1, -1)])
_NEAR_CELLS = 4
"""Nodes within so many cells, along each axis, of a cell that the surface runs through are measured."""


@dataclass(frozen=True, eq=False)
class DistanceGrid:
    """Signed distance [m], negative inside, cut off at `band`, at the nodes of a grid in the surface's frame.

    lower : (3,) position of node (0, 0, 0) [m]
    cell : distance between nodes [m]
    values : (nx, ny, nz) float32
    X_GW : (4, 4) that takes places asked for to the grid's frame; None: they are given in it
    """

    lower: Array
    cell: float
    values: NDArray[np.float32]
    X_GW: Array | None = None

    @property
    def band(self) -> float:
        """Distance at which the values are cut off [m]."""
        return BAND_CELLS * self.cell

    def move(self, D: Array) -> DistanceGrid:
        """The grid of the surface after a rigid motion (4, 4); its values stay, what is asked is taken back."""
        if self.X_GW is None and (D[:3, :3] == np.eye(3)).all():
            return replace(self, lower=self.lower + D[:3, 3])
        return replace(self, X_GW=invert(D) if self.X_GW is None else self.X_GW @ invert(D))

    def _take_in(self, points: Array) -> Array:
        return points if self.X_GW is None else apply(self.X_GW, points)

    def distances(self, points: Array) -> Array:
        """Signed distances (n,) of points (n, 3); `band` for points outside the grid."""
        return self.take_values(((self._take_in(points) - self.lower) / self.cell).T)

    @cached_property
    def X_NW(self) -> Array:
        """(4, 4) from places asked for to nodes, counted along the axes, in fractions."""
        X = np.eye(4) if self.X_GW is None else self.X_GW
        return np.vstack([(X[:3] - np.column_stack([np.zeros((3, 3)), self.lower])) / self.cell, X[3]])

    def take_values(self, nodes: Array) -> Array:
        """Signed distances (n,) at nodes (3, n) in fractions, as `X_NW` makes them of places."""
        found: Array = map_coordinates(self.values, nodes, order=1, mode="nearest", output=np.float64)
        return found

    def gradients(self, points: Array) -> Array:
        """Unit gradients (n, 3) at points (n, 3): away from the surface; zero where the distance is cut off."""
        ends = (points + self.cell * _STEPS[:, None]).reshape(-1, 3)
        d = self.distances(ends).reshape(3, 2, -1)
        slope = (d[:, 0] - d[:, 1]).T
        length = np.sqrt((slope * slope).sum(axis=1, keepdims=True))
        unit: Array = np.divide(slope, length, out=np.zeros_like(slope), where=length > 1e-9 * self.cell)
        return unit


@dataclass(frozen=True, eq=False)
class NearNodes:
    """Nodes of a grid that are inside or nearer than some distance, so that points there are found quickly.

    X_NW : (4, 4) as the grid has it; shape : of the nodes; near : of all of them, and a frame of none around them
    """

    X_NW: Array
    shape: tuple[int, ...]
    near: NDArray[np.bool_]

    def find(self, places: NDArray[np.float32], X: Array) -> NDArray[np.int64]:
        """Which of the places (3, n) may lie there after they are moved by `X` (4, 4): all that do, and some more.

        By the nearest node, less than a cell away, in single precision.
        """
        moved = (self.X_NW @ X)[:3].astype(np.float32)
        nodes = moved[:, :3] @ places
        nodes += moved[:, 3:]
        np.rint(nodes, out=nodes)
        np.maximum(nodes, -1, out=nodes)
        np.minimum(nodes, np.array(self.shape, np.float32)[:, None], out=nodes)
        i, j, k = nodes.astype(np.int64) + 1
        found: NDArray[np.int64] = np.flatnonzero(
            self.near.take((i * (self.shape[1] + 2) + j) * (self.shape[2] + 2) + k)
        )
        return found


def mark_near(grid: DistanceGrid, distance: float) -> NearNodes:
    """The nodes next to which a place may be that is inside or nearer than `distance` [m]."""
    near = np.pad(grid.values < distance + grid.cell, 1, constant_values=False)
    return NearNodes(grid.X_NW, grid.values.shape, near.ravel())


def build_distance_grid(surface: Surface, cell: float, reach_inside: bool = False) -> DistanceGrid:
    """Signed distance of a surface at nodes `cell` apart (coarser where that would take too many nodes).

    reach_inside : keep depths beyond the band too

    Sign: winding number counted along grid lines in the three directions, majority of the three votes, so that
    inside-out, doubled and slightly open surfaces come out right. Distance: to the triangle that runs through the
    nearest cell of those that the surface runs through.
    """
    lower, upper = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    pad = BAND_CELLS + 1.5
    room = np.prod(upper - lower + 2 * pad * cell) / _MOST_CELLS
    cell = max(cell, float(np.cbrt(room)))
    lower = lower - pad * cell
    shape = tuple(int(k) for k in np.ceil((upper - lower) / cell + pad) + 1)
    inside = sum((_count_windings(surface, lower, cell, shape, axis) != 0).astype(np.int8) for axis in range(3)) >= 2
    band = BAND_CELLS * cell
    values = np.where(inside, np.float32(-band), np.float32(band))
    nodes, triangles = _nearest_triangles(surface, lower, cell, shape, inside if reach_inside else None)
    distances = _measure_nodes(surface, lower, cell, shape, nodes, triangles)
    outside = np.minimum(distances, band)
    values[nodes] = np.where(inside[nodes], -(distances if reach_inside else outside), outside)
    return DistanceGrid(lower, cell, values)


def _measure_nodes(
    surface: Surface,
    lower: Array,
    cell: float,
    shape: tuple[int, ...],
    nodes: NDArray[np.bool_],
    triangles: NDArray[np.int64],
) -> Array:
    """Distance of each node to the nearest of its own triangle and those of its neighbours along the grid lines.

    The nearest cell does not always hold the nearest triangle; a neighbour's nearest cell then mostly does.
    """
    corners = surface.vertices[surface.faces]
    flat = np.flatnonzero(nodes)
    points = lower + cell * np.stack(np.unravel_index(flat, shape), axis=1)
    distances = distances_to_triangles(points, corners, triangles)
    held = np.full(nodes.size, -1, np.int64)
    held[flat] = triangles
    close = np.flatnonzero(distances < _REFINED_CELLS * cell)
    tried = [triangles[close]]
    for step in np.outer((1, -1), (shape[1] * shape[2], shape[2], 1)).ravel():
        other = held[flat[close] + step]
        new = other >= 0
        for known in tried:
            new &= other != known
        tried.append(other)
        index = close[new]
        better = distances_to_triangles(points[index], corners, other[new])
        distances[index] = np.minimum(distances[index], better)
    return distances


def _nearest_triangles(
    surface: Surface, lower: Array, cell: float, shape: tuple[int, ...], also: NDArray[np.bool_] | None
) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Nodes near the surface, and others asked for; for each the triangle in the nearest cell that holds any."""
    dense = sample_surface(surface, 0.7 * cell, at_most=400_000)
    place = tuple(np.round((dense.points - lower) / cell).astype(np.int64).T)
    empty = np.ones(shape, bool)
    empty[place] = False
    triangle = np.zeros(shape, np.int64)
    triangle[place] = dense.triangles
    nearest = distance_transform_edt(empty, return_distances=False, return_indices=True)
    nodes = maximum_filter((~empty).view(np.uint8), 2 * _NEAR_CELLS + 1).view(bool)
    if also is not None:
        nodes |= also
    return nodes, triangle[tuple(nearest[:, nodes])]


def distances_to_triangles(points: Array, corners: Array, triangles: NDArray[np.int64]) -> Array:
    """Distances (n,) of points (n, 3), each to the triangle (n,) named of those with corners (m, 3, 3).

    Least of the distances to the three edges and, where the foot of the perpendicular falls inside, to the plane.
    """
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
    places = np.ascontiguousarray(points.T)
    best = np.full(len(points), np.inf)
    inside = np.ones(len(points), bool)
    for k in range(3):
        edges = corners[:, (k + 1) % 3] - corners[:, k]
        squares = np.maximum(np.einsum("ij,ij->i", edges, edges), 1e-300)
        offset, edge = places - _take_rows(corners[:, k], triangles), _take_rows(edges, triangles)
        foot = offset - np.clip(_dot(offset, edge) / squares[triangles], 0, 1) * edge
        best = np.minimum(best, _dot(foot, foot))
        inside &= _dot(offset, _take_rows(np.cross(normals, edges), triangles)) >= 0
    height = _dot(offset, _take_rows(normals, triangles))  # any corner's offset: all lie in the plane
    nearest: Array = np.sqrt(np.where(inside, np.minimum(best, height**2), best))
    return nearest


def _take_rows(vectors: Array, rows: NDArray[np.int64]) -> Array:
    """(3, n) the vectors of (m, 3) named, a component a row: arithmetic on long rows is quick."""
    taken: Array = np.ascontiguousarray(vectors.T).take(rows, axis=1)
    return taken


def _dot(a: Array, b: Array) -> Array:
    """(n,) products of vectors (3, n)."""
    product: Array = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    return product


def _count_windings(
    surface: Surface, lower: Array, cell: float, shape: tuple[int, ...], axis: int
) -> NDArray[np.int16]:
    """Winding number at every node, summed along grid lines in one direction.

    The lines are moved aside by a millionth of a cell or so, that none runs along an edge of the mesh.
    """
    across = [(axis + 1) % 3, (axis + 2) % 3]
    nodes = (surface.vertices - lower) / cell
    corners = nodes[surface.faces]
    U, V, W = corners[:, :, across[0]] + 1.37e-4, corners[:, :, across[1]] + 2.11e-4, corners[:, :, axis]
    low = [np.ceil(q.min(axis=1)).astype(int) for q in (U, V)]
    count = [np.maximum(np.floor(q.max(axis=1)).astype(int) - q0 + 1, 0) for q, q0 in zip((U, V), low, strict=True)]
    each = count[0] * count[1]
    triangle = np.repeat(np.arange(len(corners)), each)
    k = np.arange(len(triangle)) - np.repeat(np.cumsum(each) - each, each)
    u, v = low[0][triangle] + k // count[1][triangle], low[1][triangle] + k % count[1][triangle]
    U, V, W = U[triangle], V[triangle], W[triangle]
    weights = np.stack(
        [
            (U[:, j] - U[:, i]) * (v - V[:, i]) - (V[:, j] - V[:, i]) * (u - U[:, i])
            for i, j in ((1, 2), (2, 0), (0, 1))
        ],
        axis=1,
    )
    hit = (weights > 0).all(axis=1) | (weights < 0).all(axis=1)
    u, v, weights = u[hit], v[hit], weights[hit]
    total = weights.sum(axis=1)
    crossing = np.ceil((weights * W[hit]).sum(axis=1) / total).astype(int)
    windings = np.zeros(shape, np.int16)
    index: list[NDArray[np.int64]] = [crossing, crossing, crossing]
    index[across[0]], index[across[1]] = u, v
    np.add.at(windings, tuple(index), np.where(total > 0, -1, 1).astype(np.int16))
    np.cumsum(windings, axis=axis, out=windings)
    return windings
