"""Light surfaces for display and dragging. No figure is ever taken from them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .surface import Surface

LEAST_TRIANGLES = 12
_HALVINGS = 12
_FORESTEP = 8


def make_proxy(surface: Surface, triangles: int) -> Surface:
    """A surface of no more triangles than asked for, like the one given; that itself, where it is small enough.

    Vertices that share a cell of a cubic grid become one, at their mean; the finest grid that keeps to the number is
    taken. A closed surface stays closed: of triangles that fall together those of opposite winding cancel, except
    that a blade thinner than a cell keeps its two sides.

    Raises
    ------
    ValueError : fewer than 12 triangles are asked for (a box has as many)
    """
    if triangles < LEAST_TRIANGLES:
        raise ValueError(f"a proxy has at least {LEAST_TRIANGLES} triangles, not {triangles}")
    if len(surface.faces) <= triangles:
        return surface
    size = float(np.ptp(surface.vertices, axis=0).max())
    if len(surface.faces) > _FORESTEP * triangles:  # a coarser surface first, so that the search is quick
        fine = cluster_vertices(surface, size / np.sqrt(_FORESTEP * triangles))
        if len(fine.faces) > triangles:
            surface = fine
    coarse, best = 0.5, None
    fine_share = coarse / (4 * np.sqrt(triangles))
    for _ in range(_HALVINGS):
        share = float(np.sqrt(coarse * fine_share))
        found = cluster_vertices(surface, share * size)
        if len(found.faces) > triangles:
            fine_share = share
        else:
            coarse = share
            best = found if len(found.faces) else best
    return best if best is not None else _make_box(surface)


def cluster_vertices(surface: Surface, cell_m: float) -> Surface:
    """The surface with all vertices of a cell of a cubic grid drawn together at their mean."""
    cells = np.floor((surface.vertices - surface.vertices.min(axis=0)) / cell_m).astype(np.int64)
    spans = cells.max(axis=0) + 1
    keys = (cells[:, 0] * spans[1] + cells[:, 1]) * spans[2] + cells[:, 2]
    _, owner, counts = np.unique(keys, return_inverse=True, return_counts=True)
    owner = owner.reshape(-1)
    means = np.stack([np.bincount(owner, surface.vertices[:, axis]) / counts for axis in range(3)], axis=1)
    faces = owner[surface.faces]
    faces = faces[(faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])]
    used, flat = np.unique(_cancel_pairs(faces), return_inverse=True)
    return Surface(means[used], flat.reshape(-1, 3).astype(np.int64))


def _cancel_pairs(faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """Faces with those of opposite winding set against each other; where all cancel, one of each stays."""
    if not len(faces):
        return faces
    turned = np.take_along_axis(faces, (np.argmin(faces, axis=1)[:, None] + np.arange(3)) % 3, axis=1)
    forward = turned[:, 1] < turned[:, 2]
    rows = np.where(forward[:, None], turned, turned[:, (0, 2, 1)])
    unique, group = _find_unique(rows)
    net = np.bincount(group, np.where(forward, 1, -1), len(unique)).astype(np.int64)
    back = unique[:, (0, 2, 1)]
    one_way = np.where((net > 0)[:, None], unique, back)
    blade = net == 0
    return np.concatenate([np.repeat(one_way, np.abs(net), axis=0), unique[blade], back[blade]])


def _find_unique(rows: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Each row (n, 3) of whole numbers once, in rising order, and which of them every row is.

    What numpy.unique does along an axis, four times as quick: rows become one number, pairs first lest it overflow.
    """
    most = int(rows.max()) + 1
    _, pairs = np.unique(rows[:, 0] * most + rows[:, 1], return_inverse=True)
    _, first, group = np.unique(pairs.reshape(-1) * most + rows[:, 2], return_index=True, return_inverse=True)
    return rows[first], group.reshape(-1)


def _make_box(surface: Surface) -> Surface:
    """The bounding box, for a surface that no grid makes small enough."""
    lower, upper = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)])
    faces = [
        (0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5), (0, 4, 5), (0, 5, 1),
        (2, 3, 7), (2, 7, 6), (0, 2, 6), (0, 6, 4), (1, 5, 7), (1, 7, 3),
    ]  # fmt: skip
    return Surface(lower + corners * (upper - lower), np.array(faces, np.int64))
