"""Evenly spread points on a surface, each with its normal, its triangle and an equal share of the area."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..spatial.errors import MeshFileError
from ..spatial.transforms import Array
from .surface import Surface

R2 = np.array([0.7548776662466927, 0.5698402909980532])
"""The two-dimensional low-discrepancy sequence: powers of 1/p, p the plastic number (p³ = p + 1)."""


@dataclass(frozen=True, eq=False)
class Samples:
    """Points that stand for equal shares of a surface.

    points, normals : (n, 3) [m] and outward unit normals, in the surface's frame
    triangles : (n,) index of the triangle each point lies on
    area_m2 : of surface that one point stands for
    """

    points: Array
    normals: Array
    triangles: NDArray[np.int64]
    area_m2: float

    @property
    def spacing(self) -> float:
        """Side of the square that one point stands for [m]."""
        return float(np.sqrt(self.area_m2))

    def take(self, which: NDArray[np.bool_] | NDArray[np.int64]) -> Samples:
        """Some of the points."""
        return Samples(self.points[which], self.normals[which], self.triangles[which], self.area_m2)


def sample_surface(surface: Surface, spacing: float, at_least: int = 4000, at_most: int = 60000) -> Samples:
    """Spread points over a surface by area, the same points for the same surface every time.

    The points step through the triangles by cumulative area, so that each triangle gets its due to within one point;
    within a triangle they follow a low-discrepancy sequence folded onto it. No random numbers.

    Parameters
    ----------
    spacing : wanted distance between neighbouring points [m]; the number of points is kept within the two bounds

    Raises
    ------
    MeshFileError : the surface has no area or co-ordinates that are not numbers
    """
    a, b, c = (surface.vertices[surface.faces[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    double_areas = np.linalg.norm(cross, axis=1)
    total = float(double_areas.sum()) / 2
    if not np.isfinite(total) or total <= 0:
        raise MeshFileError("surface", "it has no area, or co-ordinates that are not numbers", "mend or leave it out")
    n = int(np.clip(np.ceil(total / spacing**2), at_least, at_most))
    index = np.arange(n)
    cumulative = np.cumsum(double_areas)
    triangles = np.searchsorted(cumulative, (index + 0.5) / n * cumulative[-1])
    triangles = np.minimum(triangles, len(double_areas) - 1)
    u, v = np.mod(0.5 + np.outer(R2, index + 1), 1.0)
    fold = u + v > 1
    u, v = np.where(fold, 1 - u, u)[:, None], np.where(fold, 1 - v, v)[:, None]
    points = a[triangles] + u * (b - a)[triangles] + v * (c - a)[triangles]
    normals = cross[triangles] / np.maximum(double_areas[triangles], 1e-300)[:, None]
    return Samples(points, normals, triangles, total / n)
