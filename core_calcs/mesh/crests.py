"""Vertices that stand out of a surface: what touches first where it runs into another."""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array
from .surface import Surface

_LEAST_HEIGHT = 0.02
"""Vertices that stand out less (share of the spacing) are no crest."""


def find_crests(surface: Surface, spacing: float) -> Array:
    """Vertices (n, 3) [m] that lie farther out than the mean of their neighbours, one in every cube of edge `spacing`.

    Samples spread over the triangles miss the ridges and corners between them; of each cube's vertices the one that
    stands out farthest along its own normal is kept.
    """
    vertices, faces = surface.vertices, surface.faces
    count = len(vertices)
    corners = vertices[faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals, around, links = np.zeros((count, 3)), np.zeros((count, 3)), np.zeros(count)
    for k in range(3):
        at, both = faces[:, k], corners[:, (k + 1) % 3] + corners[:, (k + 2) % 3]
        links += 2.0 * np.bincount(at, minlength=count)
        for axis in range(3):
            normals[:, axis] += np.bincount(at, across[:, axis], count)
            around[:, axis] += np.bincount(at, both[:, axis], count)
    length = np.linalg.norm(normals, axis=1)
    whole = (links > 0) & (length > 0)
    heights = np.zeros(count)
    offset = vertices[whole] - around[whole] / links[whole, None]
    heights[whole] = np.einsum("ij,ij->i", offset, normals[whole]) / length[whole]
    out = np.flatnonzero(heights > _LEAST_HEIGHT * spacing)
    out = out[np.argsort(-heights[out], kind="stable")]
    cubes = np.floor((vertices[out] - vertices.min(axis=0)) / spacing).astype(np.int64)
    first = np.unique(cubes, axis=0, return_index=True)[1]
    found: Array = vertices[out[np.sort(first)]]
    return found
