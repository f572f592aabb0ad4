"""A lighter copy of a surface for looking at: vertices gathered in the cells of a grid."""

from __future__ import annotations

import numpy as np

from ..mesh.surface import Surface

_ROUNDS = 12


def simplify_surface(surface: Surface, most: int) -> Surface:
    """A surface of no more than so many triangles.

    Vertices of one grid cell become one, at their mean (Rossignac & Borrel, "Multi-resolution 3D approximations for
    rendering complex scenes", 1993); triangles that collapse or come to lie on one another are dropped. The cell is
    the smallest of a search that keeps to the number.

    Parameters
    ----------
    most : triangles, at least 4; a surface that has no more is returned as it is
    """
    if len(surface.faces) <= most:
        return surface
    extent = float(np.ptp(surface.vertices, axis=0).max())
    fine, coarse = extent / 2**16, extent
    best = _cluster(surface, coarse)
    for _ in range(_ROUNDS):
        cell = float(np.sqrt(fine * coarse))
        tried = _cluster(surface, cell)
        if len(tried.faces) > most:
            fine = cell
        else:
            coarse, best = cell, tried
            if len(tried.faces) > 0.9 * most:
                break
    return best


def _cluster(surface: Surface, cell: float) -> Surface:
    keys = np.floor((surface.vertices - surface.vertices.min(axis=0)) / cell).astype(np.int64)
    span = keys.max(axis=0) + 1
    flat = (keys[:, 0] * span[1] + keys[:, 1]) * span[2] + keys[:, 2]
    _, group, counts = np.unique(flat, return_inverse=True, return_counts=True)
    sums = [np.bincount(group, column, minlength=len(counts)) for column in surface.vertices.T]
    vertices = np.stack(sums, axis=1) / counts[:, None]
    faces = group[surface.faces]
    a, b, c = faces.T
    faces = faces[(a != b) & (b != c) & (c != a)]
    _, first = np.unique(np.sort(faces, axis=1), axis=0, return_index=True)
    return Surface(vertices, faces[np.sort(first)].astype(np.int64))
