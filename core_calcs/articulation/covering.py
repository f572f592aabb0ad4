"""How much of a facet stays covered by its partner as the joint moves, and how far the two come apart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..spatial.transforms import Array, apply
from .facets import Patch

_RADIUS = 2.5
"""A point is covered where half a disc of so many spacings around it is: the rule that puts a straight edge right."""


RIM_PERCENTILE = 95.0
"""A facet comes apart at its rim first: of its points' openings this one counts, so that no single point decides."""


@dataclass(frozen=True, eq=False)
class FacetContact:
    """The neutral contact of a pair of facets, measured on the plane of the parent's.

    child_points, parent_points : (n, 3), (m, 3) samples of the two [m]
    tree : of the parent's on that plane
    plane : (3, 2) two directions on it; normal : (3,) the parent's facet's outward normal
    radius : of the disc [m]; enough : how many of the parent's samples in it make half a disc
    opposed : (n,) which of the child's samples are covered at neutral
    gaps : (n,) distance of each along the normal at neutral [m]; of those that are not covered then the others' mean
    bound : whether a disc binds each point to its opposite, so that turning and sliding pull at it as opening does
    """

    child_points: Array
    parent_points: Array
    tree: cKDTree
    plane: Array
    normal: Array
    radius: float
    enough: float
    opposed: NDArray[np.bool_]
    gaps: Array
    bound: bool

    def measure(self, X_moved: Array, slide: Array) -> Cover:
        """Cover of the facet with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
        points = apply(X_moved, self.child_points) + slide
        covered, gaps = _project(self, points)
        if self.bound:
            places = points[self.opposed]
            growths = _pull_apart(places - self.child_points[self.opposed], self.normal)
        else:
            places, growths = points[covered], gaps - self.gaps[covered]
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
    normal = parent.normal
    plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
    samples = parent.element.samples
    radius = _RADIUS * samples.spacing
    slant = float(np.abs(samples.normals[parent.index] @ normal).mean())
    enough = np.pi * radius**2 / (samples.area_m2 * slant) / 2
    tree = cKDTree(parent.points @ plane)
    blank = FacetContact(
        child.points, parent.points, tree, plane, normal, radius, enough, np.empty(0, bool), np.empty(0), bound
    )
    covered, gaps = _project(blank, child.points)
    if not covered.any():
        return None
    own = np.full(len(child.points), gaps.mean())
    own[covered] = gaps
    return replace(blank, opposed=covered, gaps=own)


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


def _project(contact: FacetContact, points: Array) -> tuple[NDArray[np.bool_], Array]:
    """Which points lie over the parent's facet, and how far those are from it along its normal."""
    flat = points @ contact.plane
    around = np.asarray(contact.tree.query_ball_point(flat, contact.radius, return_length=True))
    covered: NDArray[np.bool_] = around >= contact.enough
    nearest = np.asarray(contact.tree.query(flat[covered])[1], np.int64)
    gaps: Array = (points[covered] - contact.parent_points[nearest]) @ contact.normal
    return covered, gaps
