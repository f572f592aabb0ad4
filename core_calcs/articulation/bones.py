"""Bones made ready to be held against each other: their shapes alone, wherever they stand."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.spatial import cKDTree

from ..mesh.distance_grid import DistanceGrid, build_distance_grid
from ..mesh.samples import sample_surface
from ..mesh.surface import Surface
from ..mesh.survey import survey_body
from ..skeleton.element import Series, Side
from ..spatial.transforms import Array, make_transform

POINTS = 2500
"""Points spread over a bone."""
CELLS_A_SIZE = 18
"""Nodes of its distance grid are s/18 apart: distances are known up to about s/5."""
MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False)
class Bone:
    """A bone where it stands: its own surface in its frame E, and the frame's place in the world."""

    name: str
    series: Series
    side: Side
    surface: Surface
    X_WE: Array


@dataclass(frozen=True, eq=False)
class Body:
    """A bone's shape in its frame B: the axes of E, the origin at its centre of volume.

    size : s, the cube root of its volume [m]; centre_E : (3,) of that centre in E [m]
    points, normals : (n, 3) spread evenly over it; area_m2 : that one of them stands for
    grid : signed distance to it
    """

    size: float
    centre_E: Array
    points: Array
    normals: Array
    area_m2: float
    grid: DistanceGrid

    @cached_property
    def tree(self) -> cKDTree:
        """Of its points."""
        return cKDTree(self.points)

    @cached_property
    def axes(self) -> Array:
        """(3, 3) principal axes of its points as columns, right-handed, the longest last."""
        axes: Array = np.linalg.eigh(np.cov(self.points.T))[1]
        axes[:, 0] *= np.sign(np.linalg.det(axes))
        return axes

    @cached_property
    def bounds(self) -> Array:
        """(2, 3) lower and upper corner of the box about its points [m]."""
        return np.stack([self.points.min(axis=0), self.points.max(axis=0)])

    @cached_property
    def mirrored(self) -> Body:
        """Its mirror image."""
        values = np.ascontiguousarray(self.grid.values[:, ::-1, :])
        lower = self.grid.lower.copy()
        lower[1] = -(lower[1] + self.grid.cell * (values.shape[1] - 1))
        return Body(
            self.size,
            self.centre_E * MIRROR,
            self.points * MIRROR,
            self.normals * MIRROR,
            self.area_m2,
            DistanceGrid(lower, self.grid.cell, values),
        )

    @property
    def X_EB(self) -> Array:
        """(4, 4)."""
        return make_transform(np.eye(3), self.centre_E)


def prepare_body(surface: Surface) -> Body | None:
    """A bone's shape; None where it encloses no volume, so that nothing tells its size."""
    surface, solid = survey_body(surface)
    if not solid.volume_m3 > 0:
        return None
    size, centre = float(np.cbrt(solid.volume_m3)), np.asarray(solid.centre_m, float)
    centred = Surface(surface.vertices - centre, surface.faces)
    samples = sample_surface(centred, np.inf, POINTS, POINTS)
    grid = build_distance_grid(centred, size / CELLS_A_SIZE)
    return Body(size, centre, samples.points, samples.normals, samples.area_m2, grid)
