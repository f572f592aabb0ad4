"""How much of a facet stays covered by its partner as the joint moves, and how far the two come apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array, apply
from .facets import Patch

_COVERS = 1.5
"""A sample of a facet covers what lies within so many spacings of it on the facet's plane."""


@dataclass(frozen=True, eq=False)
class FacetContact:
    """The neutral contact of a pair of facets, measured on the plane of the parent's.

    plane : (3, 2) two directions on it; normal : (3,) the parent's facet's outward normal
    radius : what one of its samples covers [m]
    count : samples of the child's facet that are covered at neutral
    gap : mean distance of these along the normal [m]
    """

    kind: str
    child_points: Array
    parent_points: Array
    plane: Array
    normal: Array
    radius: float
    count: int
    gap: float


@dataclass(frozen=True, eq=False)
class Cover:
    """share : of the neutral contact that is still covered; opening : of the gap beyond neutral [m]; place : (3,)."""

    share: float
    opening: float
    place: Array


def prepare_facet_contact(parent: Patch, child: Patch) -> FacetContact | None:
    """Measure the neutral contact of two facets; None where they do not lie over each other at all."""
    normal = parent.normal
    plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
    spacing = max(parent.element.samples.spacing, child.element.samples.spacing)
    blank = FacetContact(parent.kind, child.points, parent.points, plane, normal, _COVERS * spacing, 0, 0.0)
    covered, gaps = _project(blank, child.points)
    if not covered.any():
        return None
    count, gap = int(covered.sum()), float(gaps[covered].mean())
    return FacetContact(blank.kind, blank.child_points, blank.parent_points, plane, normal, blank.radius, count, gap)


def measure_cover(contact: FacetContact, X_moved: Array, slide: Array) -> Cover:
    """Cover of a facet with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
    points = apply(X_moved, contact.child_points) + slide
    covered, gaps = _project(contact, points)
    opening = float(gaps[covered].mean()) - contact.gap if covered.any() else 0.0
    return Cover(float(covered.sum()) / contact.count, opening, points.mean(axis=0))


def _project(contact: FacetContact, points: Array) -> tuple[Array, Array]:
    """Which points lie over the parent's facet, and how far from it along its normal."""
    tree = cKDTree(contact.parent_points @ contact.plane)
    found = tree.query(points @ contact.plane, distance_upper_bound=contact.radius)
    distance, nearest = np.asarray(found[0]), np.asarray(found[1])
    covered = np.isfinite(distance)
    gaps = np.zeros(len(points))
    gaps[covered] = (points[covered] - contact.parent_points[nearest[covered]]) @ contact.normal
    return covered, gaps
