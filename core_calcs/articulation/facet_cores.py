"""Cores of a column joint's facets: what of each element faces the other as end plates and zygapophyses do.

Lengths are shares of s, the size of the smaller of the two elements. Directions are the column's at that joint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..skeleton.joint import FacetKind
from ..spatial.transforms import Array
from .column import ColumnAxes
from .facing import Facing, find_facing
from .partner import Partner
from .patches import Index, mean_normal, open_patch, split_patches

_ALONG = 0.6
_LEAST_CENTRUM_S2, _OFF_MIDLINE_S = 0.03, 0.15
_OF_LARGEST = 0.3
"""Of what faces the partner along the column an end plate is no mere remnant: paired condyles lie at its sides."""
_ZYGAPOPHYSIS_GAP_S, _LEAST_ZYGAPOPHYSIS_S2 = 0.16, 0.012
_OPENING_S = {"centrum": 0.06, "zygapophysis": 0.04}
_LIKE_GAP_S, _LIKE_COS = 0.05, np.cos(np.radians(25))
_MEETS_S = 0.03
SIDES: dict[int, FacetKind] = {1: "left zygapophysis", -1: "right zygapophysis"}


@dataclass(frozen=True, eq=False)
class End:
    """One element of the pair, seen from its partner.

    looks : 1 where it faces the head (the tailward element of the two), else -1
    midline : of the pair, along the animal's left [m]
    """

    element: Partner
    facing: Facing
    axes: ColumnAxes
    size: float
    looks: int
    midline: float

    @property
    def points(self) -> Array:
        """(n, 3) of the samples that face the partner."""
        return self.element.samples.points[self.facing.index]

    @property
    def normals(self) -> Array:
        """(n, 3) of the same."""
        return self.element.samples.normals[self.facing.index]

    def area_s2(self, which: Index) -> float:
        """Area of some of these samples as a share of s²."""
        return len(which) * self.element.samples.area_m2 / self.size**2

    def split(self, which: Index, opening_s: float) -> list[Index]:
        """Opened and split into connected pieces, the largest first; positions among the facing samples."""
        samples = self.element.samples
        opened = open_patch(samples, self.facing.index[which], opening_s * self.size)
        return [np.searchsorted(self.facing.index, np.sort(piece)) for piece in split_patches(samples, opened)]


Cores = dict[FacetKind, Index]
"""By kind, where a facet's core stands in the arrays of a `Facing`."""


@dataclass(frozen=True, eq=False)
class CoreSearch:
    """Cores of both elements (the headward first), each cut to what meets its partner's.

    closing : by how much the headward element was moved towards the tailward one for the search [m]
    """

    ends: tuple[End, End]
    cores: tuple[Cores, Cores]
    closing: float

    @property
    def shared(self) -> tuple[FacetKind, ...]:
        """Kinds that both elements have."""
        first, second = self.cores
        return tuple(kind for kind in first if kind in second)

    def area_s2(self, kind: FacetKind) -> float:
        """The smaller of the two cores of a kind as a share of s²; 0 where one is missing."""
        if kind not in self.shared:
            return 0.0
        return min(end.area_s2(cores[kind]) for end, cores in zip(self.ends, self.cores, strict=True))


def search_cores(headward: Partner, tailward: Partner, axes: ColumnAxes, closing: float) -> CoreSearch:
    """Cores of both elements' facets, with the two moved together along the column by `closing` [m] for the search."""
    size = min(headward.size, tailward.size)
    shift = axes.head * closing
    midline = float((headward.centre + tailward.centre) @ axes.left) / 2
    facings = find_facing(headward, tailward, size, shift), find_facing(tailward, headward, size, -shift)
    ends = End(headward, facings[0], axes, size, -1, midline), End(tailward, facings[1], axes, size, 1, midline)
    cores = _find_cores(ends[0]), _find_cores(ends[1])
    first, second = (
        {
            kind: cut
            for kind, core in cores[k].items()
            if len(cut := _cut_to_partner(ends[k], core, ends[1 - k], cores[1 - k].get(kind)))
        }
        for k in (0, 1)
    )
    return CoreSearch(ends, (first, second), closing)


def _find_cores(end: End) -> Cores:
    cores: Cores = {}
    centrum = _find_centrum(end)
    if centrum is None:
        return cores
    cores["centrum"] = centrum
    top = float(np.percentile(end.points[centrum] @ end.axes.back, 75))
    for side, kind in SIDES.items():
        piece = _find_zygapophysis(end, side, centrum, top)
        if piece is not None:
            cores[kind] = piece
    return cores


def _find_centrum(end: End) -> Index | None:
    along = np.flatnonzero(end.normals @ end.axes.head * end.looks > _ALONG)
    pieces = end.split(along, _OPENING_S["centrum"])
    for piece in pieces:
        if len(piece) < _OF_LARGEST * len(pieces[0]):
            return None
        off = float(end.points[piece].mean(axis=0) @ end.axes.left) - end.midline
        if end.area_s2(piece) >= _LEAST_CENTRUM_S2 and abs(off) <= _OFF_MIDLINE_S * end.size:
            return piece
    return None


def _find_zygapophysis(end: End, side: int, centrum: Index, top: float) -> Index | None:
    """Of the pieces dorsal of the centrum on one side, the largest that looks as a zygapophysis does.

    Those that look to the head look dorsally and to the middle as well; those that look to the tail the other way.
    Around the closest fifth of the largest piece stays what is nearly as close and looks nearly the same way: the
    lamina beside a facet is farther off, or turns away.
    """
    points, normals, gaps = end.points, end.normals, end.facing.gap_m
    outwards = (points @ end.axes.left - end.midline) * side
    turned = (normals @ end.axes.back - side * (normals @ end.axes.left)) * end.looks
    wanted = (gaps <= _ZYGAPOPHYSIS_GAP_S * end.size) & (points @ end.axes.back > top) & (outwards > 0.02 * end.size)
    wanted &= turned > 0.3
    wanted[centrum] = False
    for piece in end.split(np.flatnonzero(wanted), _OPENING_S["zygapophysis"]):
        if end.area_s2(piece) < _LEAST_ZYGAPOPHYSIS_S2:
            return None
        closest = piece[gaps[piece] <= np.percentile(gaps[piece], 20)]
        normal = mean_normal(end.element.samples, end.facing.index[closest])
        like = (gaps[piece] <= gaps[closest].max() + _LIKE_GAP_S * end.size) & (normals[piece] @ normal > _LIKE_COS)
        cores = end.split(piece[like], _OPENING_S["zygapophysis"])
        if cores and end.area_s2(cores[0]) >= _LEAST_ZYGAPOPHYSIS_S2:
            return cores[0]
    return None


def _cut_to_partner(end: End, core: Index, other: End, partner: Index | None) -> Index:
    """What of a core meets the partner's core of the same kind; all of it where the partner has none."""
    if partner is None:
        return core
    distance = cKDTree(other.points[partner]).query(end.facing.met_m[core])[0]
    cut = core[distance <= _MEETS_S * end.size]
    pieces = end.split(cut, _OPENING_S["zygapophysis"])
    return pieces[0] if pieces else cut
