"""How much of a limb's smaller facet stays on the larger one as the joint turns, measured along the curved surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..spatial.transforms import Array, apply, invert
from .covering import Cover, read_cover
from .families import Family

_MOST_POINTS = 300
_BESIDE = 1.5
"""A point is covered where the nearest sample of the larger facet lies no more spacings aside than so."""


@dataclass(frozen=True, eq=False)
class CurvedContact:
    """The neutral contact of the facet that stands out, as far as it reaches, and its partner's.

    points : (n, 3) of the partner's facet that are covered at neutral
    tree, surface, normals : of the facet that stands out
    aside : how far beside its nearest sample a point still counts as over it [m]
    gaps : (n,) distance of each at neutral [m]
    partner_moves : whether the partner is the child
    """

    points: Array
    tree: cKDTree
    surface: Array
    normals: Array
    aside: float
    gaps: Array
    partner_moves: bool

    def measure(self, X_moved: Array, slide: Array) -> Cover:
        """Cover with the child moved by `X_moved` (4, 4) and then by `slide` (3,)."""
        moved = self.partner_moves
        there = apply(X_moved, self.points) + slide if moved else apply(invert(X_moved), self.points - slide)
        covered, gaps = _lie_over(self, there)
        return read_cover(float(covered.mean()), gaps - self.gaps[covered], np.flatnonzero(covered))

    def locate(self, X_moved: Array, slide: Array, point: int | None) -> Array:
        """(3,) where a point of the facet then is, by its number; the facet's middle of None."""
        chosen = self.points.mean(axis=0) if point is None else self.points[point]
        return np.asarray(X_moved[:3, :3] @ chosen + X_moved[:3, 3] + slide) if self.partner_moves else chosen


def prepare_curved_contact(family: Family, partner_moves: bool) -> CurvedContact | None:
    """Measure the neutral contact; None where no point of the partner's facet lies over the other."""
    samples, index = family.on.bone.samples, np.concatenate(family.pieces)
    partner = family.partner.bone.samples.points[family.partner.index]
    partner = partner[:: max(1, -(-len(partner) // _MOST_POINTS))]
    surface = samples.points[index]
    blank = CurvedContact(
        partner,
        cKDTree(surface),
        surface,
        samples.normals[index],
        _BESIDE * samples.spacing,
        np.empty(0),
        partner_moves,
    )
    covered, gaps = _lie_over(blank, partner)
    if not covered.any():
        return None
    return CurvedContact(partner[covered], blank.tree, surface, blank.normals, blank.aside, gaps, partner_moves)


def _lie_over(contact: CurvedContact, points: Array) -> tuple[NDArray[np.bool_], Array]:
    """Which points (n, 3), in the frame of the facet that stands out, lie over it; and how far those are from it."""
    nearest = np.asarray(contact.tree.query(points)[1], np.int64)
    offset, normals = points - contact.surface[nearest], contact.normals[nearest]
    height = np.einsum("ij,ij->i", offset, normals)
    aside = np.linalg.norm(offset - height[:, None] * normals, axis=1)
    # The wider the gap, the more a sample that looks a little askew moves the foot of a point sideways.
    covered: NDArray[np.bool_] = aside <= contact.aside + 0.5 * np.abs(height)
    return covered, height[covered]
