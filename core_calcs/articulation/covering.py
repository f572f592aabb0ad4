"""How much of a facet stays covered by its partner as the joint moves, and how far the two come apart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..skeleton.joint import FacetKind
from ..spatial.transforms import Array, apply
from .facets import Patch

_RADIUS = 2.5
"""A point is covered where half a disc of so many spacings around it is: the rule that puts a straight edge right."""


@dataclass(frozen=True, eq=False)
class FacetContact:
    """The neutral contact of a pair of facets, measured on the plane of the parent's.

    child_points, parent_points : (n, 3), (m, 3) samples of the two [m]
    tree : of the parent's on that plane
    plane : (3, 2) two directions on it; normal : (3,) the parent's facet's outward normal
    radius : of the disc [m]; enough : how many of the parent's samples in it make half a disc
    count : samples of the child's facet that are covered at neutral
    gap : mean distance of these along the normal [m]
    """

    kind: FacetKind
    child_points: Array
    parent_points: Array
    tree: cKDTree
    plane: Array
    normal: Array
    radius: float
    enough: float
    count: int
    gap: float

    def measure(self, X_moved: Array, slide: Array) -> Cover:
        """Cover of the facet with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
        points = apply(X_moved, self.child_points) + slide
        covered, gaps = _project(self, points)
        opening = float(gaps.mean()) - self.gap if len(gaps) else 0.0
        return Cover(float(covered.sum()) / self.count, opening, points.mean(axis=0))


@dataclass(frozen=True, eq=False)
class Cover:
    """share : of the neutral contact that is still covered; opening : of the gap beyond neutral [m]; place : (3,)."""

    share: float
    opening: float
    place: Array


class Covering(Protocol):
    """A pair of facets whose cover can be measured as the joint moves."""

    def measure(self, X_moved: Array, slide: Array) -> Cover:
        """Cover with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
        ...


def prepare_facet_contact(parent: Patch, child: Patch) -> FacetContact | None:
    """Measure the neutral contact of two facets; None where they do not lie over each other at all."""
    normal = parent.normal
    plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
    samples = parent.element.samples
    radius = _RADIUS * samples.spacing
    slant = float(np.abs(samples.normals[parent.index] @ normal).mean())
    enough = np.pi * radius**2 / (samples.area_m2 * slant) / 2
    tree = cKDTree(parent.points @ plane)
    blank = FacetContact(parent.kind, child.points, parent.points, tree, plane, normal, radius, enough, 0, 0.0)
    covered, gaps = _project(blank, child.points)
    if not covered.any():
        return None
    return replace(blank, count=int(covered.sum()), gap=float(gaps.mean()))


def _project(contact: FacetContact, points: Array) -> tuple[NDArray[np.bool_], Array]:
    """Which points lie over the parent's facet, and how far those are from it along its normal."""
    flat = points @ contact.plane
    around = np.asarray(contact.tree.query_ball_point(flat, contact.radius, return_length=True))
    covered: NDArray[np.bool_] = around >= contact.enough
    nearest = np.asarray(contact.tree.query(flat[covered])[1], np.int64)
    gaps: Array = (points[covered] - contact.parent_points[nearest]) @ contact.normal
    return covered, gaps
