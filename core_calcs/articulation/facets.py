"""Facets of a column joint: the end plates of the centra and the zygapophyses that face each other.

Lengths are shares of s, the size of the smaller of the two elements. Directions are the column's at that joint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..skeleton.joint import Confidence, Facet, FacetKind
from ..spatial.transforms import Array
from .column import ColumnAxes
from .facing import Facing, find_clearance, find_facing
from .partner import Partner
from .patches import Growth, Index, grow_patch, mean_normal, open_patch, split_patches, trim_to_ellipse
from .rims import bound_patch

_ALONG = 0.6
_LEAST_CENTRUM_S2, _OFF_MIDLINE_S = 0.03, 0.15
_ZYGAPOPHYSIS_GAP_S, _LEAST_ZYGAPOPHYSIS_S2 = 0.16, 0.012
_ASYMMETRY_S, _ASYMMETRY_COS = 0.15, np.cos(np.radians(30))
_OPENING_S = {"centrum": 0.06, "zygapophysis": 0.04}
_END_PLATE = Growth(0.15, 5, 0.025, np.radians(25), np.radians(55))
_TOUCHING_S = 0.01
_LIKE_GAP_S, _LIKE_COS = 0.05, np.cos(np.radians(25))
_MEETS_S = 0.03
_OPEN_RIM = 0.4
SIDES: dict[int, FacetKind] = {1: "left zygapophysis", -1: "right zygapophysis"}


@dataclass(frozen=True, eq=False)
class Patch:
    """A facet as samples of its element.

    index : into them; gap_m : mean distance to the partner
    openness : of a zygapophysis's rim, 0 where a crease runs all round it, 1 where nothing bounds it
    """

    kind: FacetKind
    element: Partner
    index: Index
    gap_m: float
    openness: float = 0.0

    @property
    def points(self) -> Array:
        """(n, 3) the samples [m]."""
        return self.element.samples.points[self.index]

    @property
    def normal(self) -> Array:
        """(3,) mean outward unit normal."""
        return mean_normal(self.element.samples, self.index)

    def as_facet(self) -> Facet:
        """The facet's figures."""
        area = len(self.index) * self.element.samples.area_m2
        return Facet(self.kind, self.element.name, self.points.mean(axis=0), self.normal, area, self.gap_m)


@dataclass(frozen=True, eq=False)
class FoundFacets:
    """Pairs of patches (on the headward, on the tailward element) and how sure they are."""

    pairs: tuple[tuple[Patch, Patch], ...]
    confidence: Confidence
    reason: str

    @property
    def centrum(self) -> tuple[Patch, Patch] | None:
        """The two end plates; None where they were not found."""
        return next((pair for pair in self.pairs if pair[0].kind == "centrum"), None)


def find_facets(headward: Partner, tailward: Partner, axes: ColumnAxes) -> FoundFacets:
    """Find the facets by which two neighbours of a column meet.

    Where the end plates are too far apart to face each other, the two are closed up along the column for the search
    alone; gaps are those of the placement given.
    """
    size = min(headward.size, tailward.size)
    first = _search(headward, tailward, axes, size, 0.0)
    if {"centrum"} <= first[0].keys() & first[1].keys():
        return _pair_up(*first, axes, size, "")
    clearance = find_clearance(headward, tailward, axes, size)
    if clearance is None or clearance <= _TOUCHING_S * size:
        return _pair_up(*first, axes, size, "")
    closing = clearance - _TOUCHING_S * size
    second = _search(headward, tailward, axes, size, closing)
    if not {"centrum"} <= second[0].keys() & second[1].keys():
        return _pair_up(*first, axes, size, "")
    note = f"; found after closing up by {closing * 1e3:.1f} mm along the column"
    return _pair_up(*second, axes, size, note)


Cores = dict[FacetKind, Index]
"""By kind, where a facet's core stands in the arrays of a `Facing`."""


def _search(
    headward: Partner, tailward: Partner, axes: ColumnAxes, size: float, closing: float
) -> tuple[dict[FacetKind, Patch], dict[FacetKind, Patch]]:
    """Facets of both elements: cores on each, cut to what faces the other's core, then taken to their rims."""
    shift = axes.head * closing
    midline = float((headward.centre + tailward.centre) @ axes.left) / 2
    facings = find_facing(headward, tailward, size, shift), find_facing(tailward, headward, size, -shift)
    ends = _End(headward, facings[0], axes, size, -1, midline), _End(tailward, facings[1], axes, size, 1, midline)
    cores = _find_cores(ends[0]), _find_cores(ends[1])
    cut = [
        {kind: _cut_to_partner(ends[k], core, ends[1 - k], cores[1 - k].get(kind)) for kind, core in cores[k].items()}
        for k in (0, 1)
    ]
    first, second = (
        {kind: _finish(kind, ends[k], core, shift) for kind, core in cut[k].items() if len(core)} for k in (0, 1)
    )
    return first, second


@dataclass(frozen=True, eq=False)
class _End:
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


def _find_cores(end: _End) -> Cores:
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


def _find_centrum(end: _End) -> Index | None:
    along = np.flatnonzero(end.normals @ end.axes.head * end.looks > _ALONG)
    for piece in end.split(along, _OPENING_S["centrum"]):
        off = float(end.points[piece].mean(axis=0) @ end.axes.left) - end.midline
        if end.area_s2(piece) >= _LEAST_CENTRUM_S2 and abs(off) <= _OFF_MIDLINE_S * end.size:
            return piece
    return None


def _find_zygapophysis(end: _End, side: int, centrum: Index, top: float) -> Index | None:
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


def _cut_to_partner(end: _End, core: Index, other: _End, partner: Index | None) -> Index:
    """What of a core meets the partner's core of the same kind; all of it where the partner has none."""
    if partner is None:
        return core
    distance = cKDTree(other.points[partner]).query(end.facing.met_m[core])[0]
    cut = core[distance <= _MEETS_S * end.size]
    pieces = end.split(cut, _OPENING_S["zygapophysis"])
    return pieces[0] if pieces else cut


def _finish(kind: FacetKind, end: _End, core: Index, shift: Array) -> Patch:
    samples, index = end.element.samples, end.facing.index[core]
    gap = float(end.facing.gap_m[core].mean()) + abs(float(shift @ mean_normal(samples, index)))
    if kind == "centrum":
        # An end plate is hollow or vaulted, its rim often rounded: it is followed as a curved surface.
        plate = trim_to_ellipse(samples, grow_patch(samples, index, end.size, _END_PLATE))
        return Patch(kind, end.element, plate, gap)
    whole, openness = bound_patch(samples, index, end.size)
    return Patch(kind, end.element, whole, gap, openness)


def _pair_up(
    first: dict[FacetKind, Patch], second: dict[FacetKind, Patch], axes: ColumnAxes, size: float, note: str
) -> FoundFacets:
    doubts: list[str] = []
    pairs: list[tuple[Patch, Patch]] = []
    for kind in ("centrum", *SIDES.values()):
        if kind in first and kind in second:
            pairs.append((first[kind], second[kind]))
        elif kind in first or kind in second:
            where = (first.get(kind) or second[kind]).element.name
            doubts.append(f"{kind}: a facet on {where} alone")
    kinds = {pair[0].kind for pair in pairs}
    if not kinds:
        return FoundFacets((), "none" if not doubts else "ambiguous", "; ".join(doubts) or "no facets found")
    sides = [kind for kind in SIDES.values() if kind in kinds]
    if len(sides) == 1:
        doubts.append(f"{sides[0]}: without its fellow on the other side")
    elif len(sides) == 2:
        doubts += [doubt for k in (0, 1) if (doubt := _doubt_symmetry(pairs, k, axes, size))]
    doubts += [
        f"{patch.kind} of {patch.element.name}: nothing bounds it"
        for pair in pairs
        for patch in pair
        if patch.openness > _OPEN_RIM
    ]
    if doubts:
        pairs = [pair for pair in pairs if pair[0].kind == "centrum"]
        return FoundFacets(tuple(pairs), "ambiguous", "; ".join(doubts) + note)
    words = "centrum and both zygapophyses face each other" if sides else "the centra face each other"
    return FoundFacets(tuple(pairs), "found", words + note)


def _doubt_symmetry(pairs: list[tuple[Patch, Patch]], k: int, axes: ColumnAxes, size: float) -> str:
    """Words where left and right zygapophyses of one of the two elements are not mirror images; else none."""
    by_kind = {pair[0].kind: pair[k] for pair in pairs}
    left, right = by_kind[SIDES[1]], by_kind[SIDES[-1]]
    middle = float((pairs[0][0].element.centre + pairs[0][1].element.centre) @ axes.left) / 2
    mirror = np.eye(3) - 2 * np.outer(axes.left, axes.left)
    mirrored = mirror @ right.points.mean(axis=0) + 2 * middle * axes.left
    apart = float(np.linalg.norm(left.points.mean(axis=0) - mirrored))
    if apart > _ASYMMETRY_S * size or float(left.normal @ mirror @ right.normal) < _ASYMMETRY_COS:
        return f"zygapophyses of {left.element.name} are not mirror images ({apart / size:.2f} s apart)"
    return ""
