"""Merging the corners of a triangle soup, and taking a file apart into bodies.

A body is a set of triangles that hang together by shared vertices, with the cavities that lie inside it. Bodies are
numbered from the head: by the middle of the bounding box, x falling, then y falling, then z falling, then size; the
number depends on the geometry alone, not on the order of the triangles in the file.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ..spatial.transforms import Array
from .surface import Surface

Indices = NDArray[np.int64]
_PRIMES = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], np.uint64)


def merge_vertices(surface: Surface) -> Surface:
    """Make vertices of equal co-ordinates one (no tolerance), drop triangles that collapse and vertices not used.

    Vertices keep the order of their first use. Exporters write the same corner with the same digits in every triangle,
    so equality holds; a tolerance would close real gaps.
    """
    corners = np.ascontiguousarray(surface.vertices[surface.faces.ravel()] + 0.0)  # + 0.0: no negative zero
    first, inverse = _find_equal_rows(corners)
    faces = inverse.reshape(-1, 3)
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    if whole.all():
        return Surface(corners[first], faces)
    return _keep_faces(Surface(corners[first], faces), whole)


def split_bodies(surface: Surface) -> tuple[Surface, ...]:
    """The bodies of a merged surface, in the documented order."""
    if not len(surface.faces):
        return ()
    labels = _label_shells(surface)
    labels = _join_cavities(surface, labels)
    order = np.argsort(labels, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(labels[order]) > 0])
    bodies = [_keep_faces(surface, np.sort(rows)) for rows in np.split(order, starts[1:])]
    return tuple(sorted(bodies, key=_body_rank))


def join_surfaces(surfaces: tuple[Surface, ...]) -> Surface:
    """All triangles of several surfaces in one."""
    if len(surfaces) == 1:
        return surfaces[0]
    starts = np.cumsum([0, *(len(surface.vertices) for surface in surfaces)])
    faces = [surface.faces + start for surface, start in zip(surfaces, starts, strict=False)]
    return Surface(np.concatenate([surface.vertices for surface in surfaces]), np.concatenate(faces))


def winding_number(surface: Surface, points: Array) -> Array:
    """(k,) how often the surface goes round each of the points (k, 3): 1 inside a closed surface wound outwards.

    The solid angles of Van Oosterom & Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125-126.
    """
    numbers = np.empty(len(points))
    for i, point in enumerate(points):
        a, b, c = (surface.vertices[column] - point for column in surface.faces.T)
        la, lb, lc = (np.linalg.norm(corner, axis=1) for corner in (a, b, c))
        volume = np.einsum("ij,ij->i", a, np.cross(b, c))
        below = la * lb * lc + lc * np.einsum("ij,ij->i", a, b)
        below += la * np.einsum("ij,ij->i", b, c) + lb * np.einsum("ij,ij->i", c, a)
        numbers[i] = np.arctan2(volume, below).sum() / (2 * np.pi)
    return numbers


def _find_equal_rows(rows: Array) -> tuple[Indices, Indices]:
    """Index of the first of every group of equal rows, in order, and each row's group."""
    bits = rows.view(np.uint64)
    with np.errstate(over="ignore"):
        mixed = bits * _PRIMES
        mixed ^= mixed >> np.uint64(29)
        mixed *= _PRIMES[::-1]
        keys = mixed[:, 0] ^ (mixed[:, 1] >> np.uint64(17)) ^ (mixed[:, 1] << np.uint64(47)) ^ mixed[:, 2]
        keys ^= keys >> np.uint64(32)
    del mixed
    order = np.argsort(keys)
    new = np.r_[True, keys[order[1:]] != keys[order[:-1]]]
    same_key = ~new[1:]
    if (rows[order[1:][same_key]] != rows[order[:-1][same_key]]).any():  # two rows of one key
        order = np.lexsort(rows.T)
        new = np.r_[True, (rows[order[1:]] != rows[order[:-1]]).any(axis=1)]
    first = np.minimum.reduceat(order, np.flatnonzero(new))
    rank = np.empty(len(first), np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    inverse = np.empty(len(rows), np.int64)
    inverse[order] = rank[np.cumsum(new) - 1]
    return np.sort(first), inverse


def _keep_faces(surface: Surface, rows: NDArray[np.int64] | NDArray[np.bool_]) -> Surface:
    """Some faces, with the vertices they use."""
    faces = surface.faces[rows]
    used, inverse = np.unique(faces, return_inverse=True)
    return Surface(surface.vertices[used], inverse.reshape(-1, 3).astype(np.int64))


def _label_shells(surface: Surface) -> Indices:
    """(m,) number of the connected shell of each face."""
    f, n = surface.faces, len(surface.vertices)
    pairs = (np.concatenate([f[:, 0], f[:, 1]]), np.concatenate([f[:, 1], f[:, 2]]))
    graph = coo_array((np.ones(2 * len(f), np.int8), pairs), shape=(n, n))
    labels = connected_components(graph, directed=False)[1]
    return np.unique(labels[f[:, 0]], return_inverse=True)[1].astype(np.int64)


def _join_cavities(surface: Surface, labels: Indices) -> Indices:
    """Give a shell that lies inside another and is wound the other way round the other's label: it is its cavity."""
    count = int(labels.max()) + 1
    if count == 1:
        return labels
    lower, upper, volume = _measure_shells(surface, labels, count)
    owner = np.arange(count)
    for inner in np.argsort(-np.abs(volume)):
        around = (lower < lower[inner]).all(axis=1) & (upper > upper[inner]).all(axis=1)
        around &= (volume * volume[inner] < 0) & (np.abs(volume) > abs(volume[inner])) & (owner == np.arange(count))
        candidates = np.flatnonzero(around)
        for outer in candidates[np.argsort(np.abs(volume[candidates]))]:
            shell = _keep_faces(surface, labels == inner)
            spread = np.linspace(0, len(shell.vertices) - 1, 5).astype(int)
            if (np.abs(winding_number(_keep_faces(surface, labels == outer), shell.vertices[spread])) > 0.5).all():
                owner[inner] = outer
                break
    return owner[labels]


def _measure_shells(surface: Surface, labels: Indices, count: int) -> tuple[Array, Array, Array]:
    """Bounding boxes (count, 3) twice and signed volumes (count,) of the shells."""
    order = np.argsort(labels, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(labels[order]) > 0])
    corners = surface.vertices[surface.faces[order]]
    lower = np.minimum.reduceat(corners.min(axis=1), starts)
    upper = np.maximum.reduceat(corners.max(axis=1), starts)
    corners = corners - lower[labels[order], None]
    six_volumes = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    return lower, upper, np.bincount(labels[order], six_volumes, count) / 6


def _body_rank(body: Surface) -> tuple[float, ...]:
    lower, upper = body.vertices.min(axis=0), body.vertices.max(axis=0)
    return (*(-(lower + upper)).tolist(), *(lower - upper).tolist(), float(len(body.faces)))
