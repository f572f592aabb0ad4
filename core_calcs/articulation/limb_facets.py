"""Where two neighbouring bones of a limb face each other: the facets' cores, of one piece or of two condyles.

Lengths are shares of s, the size of the smaller of the two bones. No directions are assumed: unlike a column's, a
limb's joint may look any way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from .facing import find_facing
from .fits import Fit, split_cylindrical
from .partner import Partner
from .patches import Index, open_patch, split_patches
from .slippage import measure_slippage

_LIKE_GAP_S = 0.10
"""What faces the partner across no more than this beyond the closest tenth belongs to the joint."""
_OPENING_S = 0.04
_LEAST_S2 = 0.008
_SECOND_SHARE = 0.3
"""A second piece at least so large as the first is the other of two condyles."""
_LEAST_SAMPLES = 40
ALIKE = float(np.cos(np.radians(25)))
"""Cosine of how far a sample may look away from a fitted surface's normal and still lie on it."""


@dataclass(frozen=True, eq=False)
class Facing:
    """One bone of the pair, where it faces the other.

    pieces : indices into its samples, one array or, of two condyles, two
    gap_m : mean distance to the partner
    """

    bone: Partner
    pieces: tuple[Index, ...]
    gap_m: float

    @property
    def index(self) -> Index:
        """Of all pieces."""
        return np.concatenate(self.pieces)

    @property
    def area_m2(self) -> float:
        """Of all pieces."""
        return len(self.index) * self.bone.samples.area_m2


def find_cores(bone: Partner, partner: Partner) -> Facing | None:
    """Where a bone faces its partner most closely; None where it does not, or too little of it does."""
    size = min(bone.size, partner.size)
    facing = find_facing(bone, partner, size, np.zeros(3))
    if not len(facing.index):
        return None
    closest = max(float(np.percentile(facing.gap_m, 10)), 0.0)
    near = facing.gap_m <= closest + _LIKE_GAP_S * size
    opened = open_patch(bone.samples, facing.index[near], _OPENING_S * size)
    pieces = split_patches(bone.samples, opened)
    least = max(_LEAST_S2 * size**2, _LEAST_SAMPLES * bone.samples.area_m2)
    pieces = [piece for piece in pieces if len(piece) * bone.samples.area_m2 >= least]
    if not pieces:
        return None
    kept = tuple(np.sort(piece) for piece in pieces[:2] if len(piece) >= _SECOND_SHARE * len(pieces[0]))
    gaps = facing.gap_m[np.isin(facing.index, np.concatenate(kept))]
    return Facing(bone, kept, float(gaps.mean()))


def grow_on_fit(
    bone: Partner, pieces: tuple[Index, ...], fit: Fit, tolerance: float, reach: float
) -> tuple[Index, ...]:
    """Pieces grown over what lies on a fitted surface: within `tolerance` of it, looking as it does, connected.

    reach : how far beyond the pieces at most [m]
    """
    samples = bone.samples
    grown = []
    for piece in pieces:
        far = np.asarray(cKDTree(samples.points[piece]).query(samples.points, distance_upper_bound=reach)[0])
        near = np.flatnonzero(np.isfinite(far))
        off, normals = fit.measure(samples.points[near])
        alike = np.einsum("ij,ij->i", normals, samples.normals[near]) > ALIKE
        joins = near[(np.abs(off) <= tolerance) & alike]
        connected = split_patches(samples, joins)
        most = max(connected, key=lambda one: int(np.isin(one, piece).sum()), default=piece)
        grown.append(np.sort(most) if np.isin(most, piece).any() else piece)
    return tuple(grown)


def looks_outwards(bone: Facing) -> float:
    """Share of a facet's samples that look away from the axis it slides about best, less that of those that look to it.

    Above zero for a ball, a roller, condyles; below for what takes them.
    """
    points, normals = bone.bone.samples.points[bone.index], bone.bone.samples.normals[bone.index]
    freest = measure_slippage(points, normals).turnings[0]
    _, _, out = split_cylindrical(points, freest.axis, freest.place)
    return float(np.sign(np.einsum("ij,ij->i", out, normals)).mean())
