"""The nearest point of a surface to points off it."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array
from .samples import sample_surface
from .surface import Surface

_MOST_SAMPLES = 4_000_000
_CHUNK = 1 << 17


class NearestPoints:
    """Finds nearest points of a surface: in the triangles of the two nearest of many points spread over it.

    With points `spacing` apart, and one in the middle of every triangle, a distance d > spacing comes out exact but for
    a few points, and for those too great by no more than about spacing²/(2 d).

    points : (n, 3) that belong to the surface besides its triangles
    """

    def __init__(self, surface: Surface, spacing: float, points: Array | None = None) -> None:
        corners = surface.vertices[surface.faces]
        own = np.empty((0, 3)) if points is None else points
        # A point is a triangle whose corners are one.
        self._corners = np.concatenate([corners, np.repeat(own[:, None], 3, axis=1)])
        spread = sample_surface(surface, spacing, at_least=1, at_most=_MOST_SAMPLES)
        self._triangles = np.concatenate([spread.triangles, np.arange(len(self._corners))])
        self._tree = cKDTree(
            np.concatenate([spread.points, self._corners.mean(axis=1)]), leafsize=40, balanced_tree=False
        )

    def find(self, points: Array) -> Array:
        """The nearest points (n, 3) to points (n, 3) [m]."""
        found = np.empty_like(points)
        for start in range(0, len(points), _CHUNK):
            own = points[start : start + _CHUNK]
            samples = self._tree.query(own, k=min(2, self._tree.n), workers=1)[1].reshape(len(own), -1)
            triangles = self._triangles[samples]
            nearest = find_on_triangles(own, self._corners[triangles[:, 0]])
            if triangles.shape[1] > 1:
                other = np.flatnonzero(triangles[:, 1] != triangles[:, 0])
                second = find_on_triangles(own[other], self._corners[triangles[other, 1]])
                better = _square(own[other] - second) < _square(own[other] - nearest[other])
                nearest[other[better]] = second[better]
            found[start : start + _CHUNK] = nearest
        return found


def find_on_triangles(points: Array, corners: Array) -> Array:
    """The nearest point (n, 3) to each point (n, 3) in its own triangle, corners (n, 3, 3).

    In the plane where the foot of the perpendicular falls inside, else on the nearest of the three edges.
    """
    a = corners[:, 0]
    ab, ac, offset = corners[:, 1] - a, corners[:, 2] - a, points - a
    bb, bc, cc = _square(ab), _dot(ab, ac), _square(ac)
    pb, pc = _dot(offset, ab), _dot(offset, ac)
    square = np.maximum(bb * cc - bc * bc, 1e-300)
    v, w = (cc * pb - bc * pc) / square, (bb * pc - bc * pb) / square
    best: Array = a + v[:, None] * ab + w[:, None] * ac
    off = np.flatnonzero(~((v > 0) & (w > 0) & (v + w < 1)))
    best[off] = _find_on_edges(points[off], corners[off])
    return best


def _find_on_edges(points: Array, corners: Array) -> Array:
    """The same on the edges alone."""
    best, least = np.empty_like(points), np.full(len(points), np.inf)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        start, edge = corners[:, i], corners[:, j] - corners[:, i]
        along = np.clip(_dot(points - start, edge) / np.maximum(_square(edge), 1e-300), 0, 1)
        foot = start + along[:, None] * edge
        away = _square(points - foot)
        closer = away < least
        best[closer], least[closer] = foot[closer], away[closer]
    return best


def _dot(a: Array, b: Array) -> Array:
    product: Array = np.einsum("ij,ij->i", a, b)
    return product


def _square(a: Array) -> Array:
    return _dot(a, a)
