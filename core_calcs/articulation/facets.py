"""Facets of a column joint: the end plates of the centra and the zygapophyses that face each other.

Lengths are shares of s, the size of the smaller of the two elements. Directions are the column's at that joint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.joint import Confidence, Facet, FacetKind
from ..spatial.transforms import Array
from .column import ColumnAxes, ColumnElement
from .facing import Facing, find_clearance, find_facing
from .patches import Index, grow_patch, mean_normal, open_patch, split_patches

_ALONG = 0.6
_LEAST_CENTRUM_S2, _OFF_MIDLINE_S = 0.03, 0.15
_ZYGAPOPHYSIS_GAP_S, _LEAST_ZYGAPOPHYSIS_S2 = 0.16, 0.012
_ASYMMETRY_S, _ASYMMETRY_COS = 0.15, np.cos(np.radians(30))
_OPENING_S = {"centrum": 0.06, "zygapophysis": 0.04}
_REACH_S = {"centrum": 0.12, "zygapophysis": 0.06}
_TOUCHING_S = 0.05
SIDES: dict[int, FacetKind] = {1: "left zygapophysis", -1: "right zygapophysis"}


@dataclass(frozen=True, eq=False)
class Patch:
    """A facet as samples of its element: `index` into them, `gap_m` the mean distance to the partner."""

    kind: FacetKind
    element: ColumnElement
    index: Index
    gap_m: float

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


def find_facets(headward: ColumnElement, tailward: ColumnElement, axes: ColumnAxes) -> FoundFacets:
    """Find the facets by which two neighbours of a column meet.

    Where the end plates are too far apart to face each other, the two are closed up along the column for the search
    alone; gaps are those of the placement given.
    """
    size = min(headward.size, tailward.size)
    first = _search(headward, tailward, axes, size, 0.0)
    if {"centrum"} <= first[0].keys() & first[1].keys():
        return _pair_up(*first, axes, size, "")
    clearance = find_clearance(headward, tailward, axes.head, size)
    if clearance is None or clearance <= _TOUCHING_S * size:
        return _pair_up(*first, axes, size, "")
    closing = clearance - _TOUCHING_S * size
    second = _search(headward, tailward, axes, size, closing)
    if not {"centrum"} <= second[0].keys() & second[1].keys():
        return _pair_up(*first, axes, size, "")
    note = f"; found after closing up by {closing * 1e3:.1f} mm along the column"
    return _pair_up(*second, axes, size, note)


def _search(
    headward: ColumnElement, tailward: ColumnElement, axes: ColumnAxes, size: float, closing: float
) -> tuple[dict[FacetKind, Patch], dict[FacetKind, Patch]]:
    shift = axes.head * closing
    return (
        _find_patches(headward, tailward, axes, size, shift, -1),
        _find_patches(tailward, headward, axes, size, -shift, 1),
    )


def _find_patches(
    element: ColumnElement, partner: ColumnElement, axes: ColumnAxes, size: float, shift: Array, looks: int
) -> dict[FacetKind, Patch]:
    """Facets of one element; `looks` is 1 where it faces the head (the tailward element of the two), else -1."""
    facing = find_facing(element, partner, size, shift)
    found: dict[FacetKind, Patch] = {}
    midline = float((element.centre + partner.centre) @ axes.left) / 2
    centrum = _find_centrum(element, facing, axes, size, looks, midline)
    if centrum is None:
        return found
    found["centrum"] = _finish("centrum", element, facing, centrum, size, shift)
    top = np.percentile(element.samples.points[centrum] @ axes.back, 75)
    for side, kind in SIDES.items():
        piece = _find_zygapophysis(element, facing, axes, size, looks, midline, side, centrum, float(top))
        if piece is not None:
            found[kind] = _finish(kind, element, facing, piece, size, shift)
    return found


def _find_centrum(
    element: ColumnElement, facing: Facing, axes: ColumnAxes, size: float, looks: int, midline: float
) -> Index | None:
    samples = element.samples
    along = samples.normals[facing.index] @ axes.head * looks > _ALONG
    opened = open_patch(samples, facing.index[along], _OPENING_S["centrum"] * size)
    for piece in split_patches(samples, opened):
        off = float(samples.points[piece].mean(axis=0) @ axes.left) - midline
        if len(piece) * samples.area_m2 >= _LEAST_CENTRUM_S2 * size**2 and abs(off) <= _OFF_MIDLINE_S * size:
            return piece
    return None


def _find_zygapophysis(
    element: ColumnElement,
    facing: Facing,
    axes: ColumnAxes,
    size: float,
    looks: int,
    midline: float,
    side: int,
    centrum: Index,
    top: float,
) -> Index | None:
    """Of the pieces dorsal of the centrum on one side, the largest that looks as a zygapophysis does.

    Those that look to the head look dorsally and to the middle as well; those that look to the tail the other way.
    """
    samples = element.samples
    points, normals = samples.points[facing.index], samples.normals[facing.index]
    outwards = (points @ axes.left - midline) * side
    turned = (normals @ axes.back - side * (normals @ axes.left)) * looks
    wanted = (facing.gap_m <= _ZYGAPOPHYSIS_GAP_S * size) & (points @ axes.back > top) & (outwards > 0.02 * size)
    wanted &= (turned > 0.3) & ~np.isin(facing.index, centrum)
    opened = open_patch(samples, facing.index[wanted], _OPENING_S["zygapophysis"] * size)
    for piece in split_patches(samples, opened):
        if len(piece) * samples.area_m2 >= _LEAST_ZYGAPOPHYSIS_S2 * size**2:
            return piece
    return None


def _finish(kind: FacetKind, element: ColumnElement, facing: Facing, core: Index, size: float, shift: Array) -> Patch:
    order = np.argsort(facing.index)
    at = order[np.searchsorted(facing.index[order], core)]
    normal = mean_normal(element.samples, core)
    gap = float(facing.gap_m[at].mean()) + abs(float(shift @ normal))
    reach = _REACH_S["centrum" if kind == "centrum" else "zygapophysis"]
    return Patch(kind, element, grow_patch(element.samples, core, size, reach), gap)


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
