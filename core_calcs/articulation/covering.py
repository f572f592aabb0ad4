"""How much of a facet stays covered by its partner as the joint moves, and how far the two come apart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..mesh.samples import R2
from ..spatial.transforms import Array
from .facets import Patch

_RADIUS = 2.5
"""A point is covered where half a disc of so many spacings around it is: the rule that puts a straight edge right."""
_CELLS_A_SPACING = 3
_LEAST_SLANT = 0.3
"""Cosine of a facet's slope against its own plane: what is steeper counts as if it were so steep."""
RIM_PERCENTILE = 95.0
"""A facet comes apart at its rim first: of its points' openings this one counts, so that no single point decides."""


@dataclass(frozen=True, eq=False)
class FacetMap:
    """A facet laid out on its own plane, in square cells.

    plane : (3, 2) two directions on it; normal : (3,) the facet's outward normal
    lower : (2,) corner of the first cell [m]; cell : edge of a cell [m]
    heights : (k, l) along the normal [m]; NaN where a point over the cell does not count as covered
    """

    plane: Array
    normal: Array
    lower: Array
    cell: float
    heights: Array

    @cached_property
    def frame(self) -> Array:
        """(3, 3) rows: what a step in the world makes in cells along the plane, and in metres along the normal."""
        return np.vstack([self.plane.T / self.cell, self.normal])

    @cached_property
    def origin(self) -> Array:
        """(3,) of the map, so that `frame @ point - origin` are a point's cells and height."""
        return np.append(self.lower / self.cell, 0.0)

    def find_heights(self, cells: Array) -> Array:
        """Heights (n,) of the facet [m] at cells (2, n) along its plane, in fractions; NaN beside it."""
        u, v = np.floor(cells)
        rows, columns = self.heights.shape
        # What lies beside the map is looked up in the frame of NaN around it.
        flat = np.minimum(np.maximum(u, -1), rows) * (columns + 2) + np.minimum(np.maximum(v, -1), columns)
        found: Array = self._framed.take(flat.astype(np.int64) + (columns + 3))
        return found

    @cached_property
    def _framed(self) -> Array:
        """The heights with one cell of NaN all around, row by row."""
        return np.pad(self.heights, 1, constant_values=np.nan).ravel()


@dataclass(frozen=True, eq=False)
class FacetContact:
    """The neutral contact of a pair of facets, measured on the plane of the parent's.

    child_points : (n, 3) of its facet [m]; areas : (n,) the shares of it that they stand for
    parent : the parent's facet
    opposed : (n,) which of the child's samples are covered at neutral
    gaps : (n,) distance of each along the normal at neutral [m]; of those that are not covered then the others' mean
    bound : whether a disc binds each point to its opposite, so that turning and sliding pull at it as opening does
    """

    child_points: Array
    areas: Array
    parent: FacetMap
    opposed: NDArray[np.bool_]
    gaps: Array
    bound: bool

    def measure(self, X_moved: Array, slide: Array) -> Cover:
        """Cover of the facet with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
        frame = self.parent.frame
        places = (frame @ X_moved[:3, :3]) @ self._columns
        places += (frame @ (X_moved[:3, 3] + slide) - self.parent.origin)[:, None]
        heights = self.parent.find_heights(places[:2])
        covered = np.isfinite(heights)
        if self.bound:
            growths = _pull_apart(places.compress(self.opposed, axis=1) - self._opposed_places, self.parent.cell)
        else:
            growths = (places[2] - heights - self.gaps).compress(covered)
        share = float(self.areas.compress(covered).sum() / self._opposed_area)
        return read_cover(share, growths, np.flatnonzero(self.opposed if self.bound else covered))

    def locate(self, X_moved: Array, slide: Array, point: int | None) -> Array:
        """(3,) where a point of the facet then is, by its number; the facet's middle of None."""
        chosen = self.child_points.mean(axis=0) if point is None else self.child_points[point]
        return np.asarray(X_moved[:3, :3] @ chosen + X_moved[:3, 3] + slide)

    @cached_property
    def _columns(self) -> Array:
        """(3, n) the child's points, a co-ordinate a row: arithmetic on long rows is quick."""
        return np.ascontiguousarray(self.child_points.T)

    @cached_property
    def _opposed_places(self) -> Array:
        """(3, k) cells and heights at neutral of what is covered there."""
        return self.parent.frame @ self._columns[:, self.opposed] - self.parent.origin[:, None]

    @cached_property
    def _opposed_area(self) -> float:
        return float(self.areas[self.opposed].sum())


@dataclass(frozen=True, eq=False)
class Cover:
    """How a facet lies over its partner.

    share : how large the contact still is, of the neutral one
    opening : how far it has come apart at the rim, beyond neutral [m]
    rim : number of the facet's point that has; None where nothing is left to come apart
    """

    share: float
    opening: float
    rim: int | None


class Covering(Protocol):
    """A pair of facets whose cover can be measured as the joint moves."""

    def measure(self, X_moved: Array, slide: Array) -> Cover:
        """Cover with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
        ...

    def locate(self, X_moved: Array, slide: Array, point: int | None) -> Array:
        """(3,) where a point of the facet then is, by its number; the facet's middle of None."""
        ...


def prepare_facet_contact(parent: Patch, child: Patch, bound: bool) -> FacetContact | None:
    """Measure the neutral contact of two facets; None where they do not lie over each other at all."""
    facet = _map_facet(parent)
    points, areas = _spread_points(child)
    places = facet.frame @ points.T - facet.origin[:, None]
    gaps = places[2] - facet.find_heights(places[:2])
    covered = np.isfinite(gaps)
    if not covered.any():
        return None
    return FacetContact(points, areas, facet, covered, np.where(covered, gaps, gaps[covered].mean()), bound)


def _map_facet(facet: Patch) -> FacetMap:
    """Lay a facet out once, so that looking a point up costs next to nothing."""
    lay = _lay_out(facet)
    cell = lay.spacing / _CELLS_A_SPACING
    shape = np.ceil((lay.upper - lay.lower) / cell).astype(np.int64)
    heights = lay.find_heights(lay.lower + (np.argwhere(np.ones(shape, bool)) + 0.5) * cell)[0]
    return FacetMap(lay.plane, lay.normal, lay.lower, cell, heights.reshape(shape))


def _spread_points(facet: Patch) -> tuple[Array, Array]:
    """Points (n, 3) of a facet and the shares (n,) of its area that they stand for.

    They are spread evenly over its plane: the samples themselves lie closer together here and there, and the rim that
    slides over them would be felt too soon or too late.
    """
    lay = _lay_out(facet)
    sides = lay.upper - lay.lower
    count = int(np.ceil(sides.prod() / lay.spacing**2))
    flat = lay.lower + np.mod(0.5 + np.outer(np.arange(1, count + 1), R2), 1.0) * sides
    heights, slants = lay.find_heights(flat)
    on = np.isfinite(heights)
    points = flat[on] @ lay.plane.T + np.outer(heights[on], lay.normal)
    return points, 1 / np.maximum(slants[on], _LEAST_SLANT)


@dataclass(frozen=True, eq=False)
class _Layout:
    """A facet's samples on its own plane: where on it they lie, how high, and which way they look there.

    enough : so many within `radius` of a place make half a disc
    """

    plane: Array
    normal: Array
    flat: Array
    heights: Array
    normals: Array
    spacing: float
    radius: float
    enough: float
    lower: Array
    upper: Array

    def find_heights(self, places: Array) -> tuple[Array, Array]:
        """Heights (n,) of the facet at places (n, 2) of its plane, NaN beside it; cosines (n,) of its slope there."""
        tree = cKDTree(self.flat)
        heights, slants = np.full(len(places), np.nan), np.ones(len(places))
        near = np.flatnonzero(np.isfinite(tree.query(places, distance_upper_bound=self.radius)[0]))
        around = np.asarray(tree.query_ball_point(places[near], self.radius, return_length=True))
        on = near[around >= self.enough]
        nearest = np.asarray(tree.query(places[on])[1], np.int64)
        slants[on] = self.normals[nearest] @ self.normal
        heights[on] = self.heights[nearest]
        return heights, slants


def _lay_out(facet: Patch) -> _Layout:
    normal, samples = facet.normal, facet.samples
    plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
    radius = _RADIUS * samples.spacing
    slant = float(np.abs(samples.normals @ normal).mean())
    flat = samples.points @ plane
    return _Layout(
        plane, normal, flat, samples.points @ normal, samples.normals, samples.spacing, radius,
        np.pi * radius**2 / (samples.area_m2 * slant) / 2, flat.min(axis=0) - radius, flat.max(axis=0) + radius,
    )  # fmt: skip


def read_cover(share: float, growths: Array, points: NDArray[np.int64]) -> Cover:
    """The cover that points of these numbers (n,) make whose own gaps have grown by `growths` (n,) [m]."""
    if not len(growths):
        return Cover(share, 0.0, None)
    at = np.argsort(growths)[int(np.ceil(RIM_PERCENTILE / 100 * len(growths))) - 1]
    return Cover(share, float(growths[at]), int(points[at]))


def _pull_apart(steps: Array, cell: float) -> Array:
    """How far points that have moved by steps (3, n), in cells and metres, are pulled away from their opposites [m].

    Aside and outwards: what has come closer along the normal pulls at nothing.
    """
    u, v, outwards = steps
    pulled: Array = np.hypot(np.maximum(outwards, 0), cell * np.hypot(u, v))
    return pulled
