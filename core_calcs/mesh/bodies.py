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
from .mass_properties import CHUNK
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
    labels = _join_cavities(surface, *_label_shells(surface))
    if (labels == labels[0]).all():
        return (surface,)
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
    keys = np.zeros(len(rows), np.uint64)
    with np.errstate(over="ignore"):
        for column, prime in enumerate(_PRIMES):
            keys ^= np.ascontiguousarray(rows[:, column]).view(np.uint64)
            keys *= prime
            keys ^= keys >> np.uint64(29)
    order = np.argsort(keys)
    keys = keys[order]
    found = _number_groups(order, np.r_[True, keys[1:] != keys[:-1]])
    if _agree_with_first(rows, *found):
        return found
    order = np.lexsort(rows.T)  # two different rows have one key
    return _number_groups(order, np.r_[True, (rows[order[1:]] != rows[order[:-1]]).any(axis=1)])


def _number_groups(order: Indices, new: NDArray[np.bool_]) -> tuple[Indices, Indices]:
    """First of every group and the group of each row, numbered by first use; `new`: where in `order` one begins."""
    first = np.minimum.reduceat(order, np.flatnonzero(new))
    rank = np.empty(len(first), np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    inverse = np.empty(len(order), np.int64)
    inverse[order] = rank[np.cumsum(new) - 1]
    return np.sort(first), inverse


def _agree_with_first(rows: Array, first: Indices, inverse: Indices) -> bool:
    """Whether every row equals the first of its group."""
    unique = rows[first]
    pieces = (slice(start, start + CHUNK) for start in range(0, len(rows), CHUNK))
    return all(np.array_equal(unique[inverse[piece]], rows[piece]) for piece in pieces)


def _keep_faces(surface: Surface, rows: NDArray[np.int64] | NDArray[np.bool_]) -> Surface:
    """Some faces, with the vertices they use."""
    faces = surface.faces[rows]
    used, inverse = np.unique(faces, return_inverse=True)
    return Surface(surface.vertices[used], inverse.reshape(-1, 3).astype(np.int64))


def _label_shells(surface: Surface) -> tuple[Indices, Indices]:
    """Number of the connected shell of each face (m,) and of each vertex (n,); every vertex is used."""
    f, n = surface.faces, len(surface.vertices)
    pairs = (np.concatenate([f[:, 0], f[:, 1]]), np.concatenate([f[:, 1], f[:, 2]]))
    graph = coo_array((np.ones(2 * len(f), np.int8), pairs), shape=(n, n))
    labels = connected_components(graph, directed=False)[1].astype(np.int64)
    return labels[f[:, 0]], labels


def _join_cavities(surface: Surface, labels: Indices, vertex_labels: Indices) -> Indices:
    """Give a shell that lies inside another and is wound the other way round the other's label: it is its cavity."""
    count = int(labels.max()) + 1
    volume = _measure_shells(surface, labels, vertex_labels, count)
    if count == 1 or volume.min() >= 0 or volume.max() <= 0:
        return labels
    lower, upper = _box_shells(surface, vertex_labels)
    owner = np.arange(count)
    for inner in np.argsort(-np.abs(volume)):
        around = (lower < lower[inner]).all(axis=1) & (upper > upper[inner]).all(axis=1)
        around &= (volume * volume[inner] < 0) & (np.abs(volume) > abs(volume[inner])) & (owner == np.arange(count))
        candidates = np.flatnonzero(around)
        for outer in candidates[np.argsort(np.abs(volume[candidates]))]:
            points = surface.vertices[np.flatnonzero(vertex_labels == inner)]
            spread = np.linspace(0, len(points) - 1, 5).astype(int)
            around_points = winding_number(_keep_faces(surface, labels == outer), points[spread])
            if (np.abs(around_points) > 0.5).all():
                owner[inner] = outer
                break
    return owner[labels]


def _measure_shells(surface: Surface, labels: Indices, vertex_labels: Indices, count: int) -> Array:
    """(count,) signed volumes of the shells, each about a vertex of its own so that an open one has a fair sign."""
    first = np.empty(count, np.int64)
    first[vertex_labels[::-1]] = np.arange(len(vertex_labels))[::-1]
    volumes = np.zeros(count)
    for start in range(0, len(labels), CHUNK):
        rows = slice(start, start + CHUNK)
        origin = surface.vertices[first[labels[rows]]]
        a, b, c = (surface.vertices[column] - origin for column in surface.faces[rows].T)
        volumes += np.bincount(labels[rows], np.einsum("ij,ij->i", a, np.cross(b, c)), count) / 6
    return volumes


def _box_shells(surface: Surface, vertex_labels: Indices) -> tuple[Array, Array]:
    """(count, 3) lower and upper corners of the shells' bounding boxes."""
    order = np.argsort(vertex_labels, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(vertex_labels[order]) > 0])
    points = surface.vertices[order]
    return np.minimum.reduceat(points, starts), np.maximum.reduceat(points, starts)


def _body_rank(body: Surface) -> tuple[float, ...]:
    lower, upper = body.vertices.min(axis=0), body.vertices.max(axis=0)
    return (*(-(lower + upper)).tolist(), *(lower - upper).tolist(), float(len(body.faces)))
