"""How much of a facet stays covered by its partner as the joint moves, and how far the two come apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..spatial.transforms import Array, apply
from .facets import Patch

_RADIUS = 2.5
"""A point is covered where half a disc of so many spacings around it is: the rule that puts a straight edge right."""
_CELLS_A_SPACING = 3
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

    def find_heights(self, points: Array) -> Array:
        """Heights (n,) of the facet under or over points (n, 3) [m]; NaN beside it."""
        cells = np.floor((points @ self.plane - self.lower) / self.cell).astype(np.int64)
        u, v = cells.T
        on = (u >= 0) & (u < self.heights.shape[0]) & (v >= 0) & (v < self.heights.shape[1])
        found = np.full(len(points), np.nan)
        found[on] = self.heights[u[on], v[on]]
        return found


@dataclass(frozen=True, eq=False)
class FacetContact:
    """The neutral contact of a pair of facets, measured on the plane of the parent's.

    child_points : (n, 3) samples [m]
    parent : the parent's facet
    opposed : (n,) which of the child's samples are covered at neutral
    gaps : (n,) distance of each along the normal at neutral [m]; of those that are not covered then the others' mean
    bound : whether a disc binds each point to its opposite, so that turning and sliding pull at it as opening does
    """

    child_points: Array
    parent: FacetMap
    opposed: NDArray[np.bool_]
    gaps: Array
    bound: bool

    def measure(self, X_moved: Array, slide: Array) -> Cover:
        """Cover of the facet with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
        points = apply(X_moved, self.child_points) + slide
        gaps = points @ self.parent.normal - self.parent.find_heights(points)
        covered = np.isfinite(gaps)
        if self.bound:
            places = points[self.opposed]
            growths = _pull_apart(places - self.child_points[self.opposed], self.parent.normal)
        else:
            places, growths = points[covered], (gaps - self.gaps)[covered]
        return read_cover(float(covered.sum()) / int(self.opposed.sum()), growths, places, points.mean(axis=0))


@dataclass(frozen=True, eq=False)
class Cover:
    """How a facet lies over its partner.

    share : how large the contact still is, of the neutral one; place : (3,) the facet's middle
    opening : how far it has come apart at the rim, beyond neutral [m]; rim : (3,) where
    """

    share: float
    opening: float
    place: Array
    rim: Array


class Covering(Protocol):
    """A pair of facets whose cover can be measured as the joint moves."""

    def measure(self, X_moved: Array, slide: Array) -> Cover:
        """Cover with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
        ...


def prepare_facet_contact(parent: Patch, child: Patch, bound: bool) -> FacetContact | None:
    """Measure the neutral contact of two facets; None where they do not lie over each other at all."""
    facet = _map_facet(parent)
    gaps = child.points @ facet.normal - facet.find_heights(child.points)
    covered = np.isfinite(gaps)
    if not covered.any():
        return None
    return FacetContact(child.points, facet, covered, np.where(covered, gaps, gaps[covered].mean()), bound)


def _map_facet(facet: Patch) -> FacetMap:
    """Lay a facet out once, so that looking a point up costs next to nothing."""
    normal, samples = facet.normal, facet.element.samples
    plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
    radius, cell = _RADIUS * samples.spacing, samples.spacing / _CELLS_A_SPACING
    slant = float(np.abs(samples.normals[facet.index] @ normal).mean())
    enough = np.pi * radius**2 / (samples.area_m2 * slant) / 2
    flat = facet.points @ plane
    lower, upper = flat.min(axis=0) - radius, flat.max(axis=0) + radius
    shape = np.ceil((upper - lower) / cell).astype(np.int64)
    middles = lower + (np.argwhere(np.ones(shape, bool)) + 0.5) * cell
    tree = cKDTree(flat)
    heights = np.full(len(middles), np.nan)
    near = np.flatnonzero(np.isfinite(tree.query(middles, distance_upper_bound=radius)[0]))
    covered = near[np.asarray(tree.query_ball_point(middles[near], radius, return_length=True)) >= enough]
    heights[covered] = (facet.points @ normal)[np.asarray(tree.query(middles[covered])[1], np.int64)]
    return FacetMap(plane, normal, lower, cell, heights.reshape(shape))


def read_cover(share: float, growths: Array, places: Array, middle: Array) -> Cover:
    """The cover that points at `places` (n, 3) make whose own gaps have grown by `growths` (n,) [m]."""
    if not len(growths):
        return Cover(share, 0.0, middle, middle)
    at = np.argsort(growths)[int(np.ceil(RIM_PERCENTILE / 100 * len(growths))) - 1]
    return Cover(share, float(growths[at]), middle, places[at])


def _pull_apart(steps: Array, normal: Array) -> Array:
    """How far points that have moved by `steps` (n, 3) are pulled away from their opposites: aside and outwards.

    What has come closer along the normal pulls at nothing.
    """
    outwards = steps @ normal
    aside = steps - outwards[:, None] * normal
    pulled: Array = np.hypot(np.maximum(outwards, 0), np.linalg.norm(aside, axis=1))
    return pulled
