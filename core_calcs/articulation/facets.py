"""Facets of a column joint: the end plates of the centra and the zygapophyses that face each other.

Lengths are shares of s, the size of the smaller of the two elements. Directions are the column's at that joint.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from ..mesh.samples import Samples
from ..skeleton.joint import Confidence, Facet, FacetKind
from ..spatial.transforms import Array
from .closings import find_best_closing, find_parted
from .column import ColumnAxes
from .facet_cores import SIDES, CoreSearch, End, search_cores
from .facet_surfaces import describe_facet
from .fine_rims import sharpen_rim
from .partner import Partner
from .patches import Growth, Index, grow_patch, mean_normal, trim_to_ellipse
from .rims import bound_patch

_ASYMMETRY_S, _ASYMMETRY_COS = 0.15, np.cos(np.radians(30))
_LEVEL_COS = np.cos(np.radians(20))
_END_PLATE = Growth(0.15, 5, 0.025, np.radians(25), np.radians(55))
_OPEN_RIM = 0.4
_ALL_KINDS = 3
_MOST_OF = 0.5
"""End plates that face each other over less than this share of what they do at best are looked for closed up."""


@dataclass(frozen=True, eq=False)
class Patch:
    """A facet as samples of its element.

    index : into them; gap_m : mean distance to the partner
    openness : of a zygapophysis's rim, 0 where a crease runs all round it, 1 where nothing bounds it
    how : it was found, in words; objection : what speaks against it; none where nothing does
    fine : denser samples of it, out to its rim; None: those of its element are all there are
    """

    kind: FacetKind
    element: Partner
    index: Index
    gap_m: float
    openness: float = 0.0
    how: str = "faces its partner"
    objection: str = ""
    fine: Samples | None = None

    @property
    def samples(self) -> Samples:
        """Its own, the densest there are."""
        return self.element.samples.take(self.index) if self.fine is None else self.fine

    @property
    def points(self) -> Array:
        """(n, 3) the samples [m]."""
        return self.samples.points

    @property
    def normal(self) -> Array:
        """(3,) mean outward unit normal."""
        samples = self.samples
        return mean_normal(samples, np.arange(len(samples.points)))

    def as_facet(self) -> Facet:
        """The facet's figures."""
        how = f"{self.how}; in doubt: {self.objection}" if self.objection else self.how
        confidence: Confidence = "ambiguous" if self.objection else "found"
        samples = self.samples
        every = np.arange(len(samples.points))
        return describe_facet(self.kind, self.element.name, samples, every, self.gap_m, how, confidence)


@dataclass(frozen=True, eq=False)
class FoundFacets:
    """Pairs of patches (on the headward, on the tailward element) and how sure they are.

    unsure : facets that were seen and that the joint does not rest on, each with its objection
    """

    pairs: tuple[tuple[Patch, Patch], ...]
    confidence: Confidence
    reason: str
    unsure: tuple[Patch, ...] = ()

    @property
    def centrum(self) -> tuple[Patch, Patch] | None:
        """The two end plates; None where they were not found."""
        return next((pair for pair in self.pairs if pair[0].kind == "centrum"), None)


def find_facets(headward: Partner, tailward: Partner, axes: ColumnAxes) -> FoundFacets:
    """Find the facets by which two neighbours of a column meet.

    Where the two overlap, or the placement given does not show all that the elements would show if they were moved
    along the column, they are moved for the search alone; gaps are those of the placement given.
    """
    return take_to_rims(search_best(headward, tailward, axes))


def search_best(headward: Partner, tailward: Partner, axes: ColumnAxes) -> CoreSearch:
    """The cores as the two are placed, or moved along the column where that shows more."""
    search = search_cores(headward, tailward, axes, 0.0)
    parted = find_parted(headward, tailward, axes)
    if parted is not None and not _shows_more(search, parted):
        search = parted
    if len(search.shared) < _ALL_KINDS:
        best = find_best_closing(headward, tailward, axes)
        if best is not None and _shows_more(best, search):
            search = best
    return search


def _shows_more(one: CoreSearch, other: CoreSearch) -> bool:
    """Whether a search shows kinds of facets that another does not, or clearly more of the end plates."""
    if len(one.shared) != len(other.shared):
        return len(one.shared) > len(other.shared)
    return other.area_s2("centrum") < _MOST_OF * one.area_s2("centrum")


def _finish(kind: FacetKind, end: End, core: Index, shift: Array) -> Patch:
    """A facet taken from its core to its rim."""
    samples, index = end.element.samples, end.facing.index[core]
    gap = float(end.facing.gap_m[core].mean()) + end.looks * float(shift @ mean_normal(samples, index))
    if kind == "centrum":
        # An end plate is hollow or vaulted, its rim often rounded: it is followed as a curved surface.
        plate = trim_to_ellipse(samples, grow_patch(samples, index, end.size, _END_PLATE))
        return Patch(
            kind, end.element, plate, gap, how="faces its partner along the column, followed as a curved surface"
        )
    whole, openness, roughness = bound_patch(samples, index, end.size)
    how = f"faces its partner beside the arch, followed to a rim that is {openness:.0%} as open as a cut on a flat"
    fine = sharpen_rim(end.element.surface, samples, whole, end.size, roughness)
    return Patch(kind, end.element, whole, gap, openness, how, fine=fine)


def take_to_rims(search: CoreSearch) -> FoundFacets:
    """The facets that cores belong to, in pairs, and how sure they are; gaps are those of the placement given."""
    return judge_facets(finish_cores(search), search.ends[0].axes, search.ends[0].size, _tell_closing(search.closing))


Seen = tuple[dict[FacetKind, Patch], dict[FacetKind, Patch]]
"""What was seen on the headward and on the tailward element, by kind."""


def finish_cores(search: CoreSearch) -> Seen:
    """The facets of both elements, taken from their cores to their rims."""
    shift = search.ends[0].axes.head * search.closing
    first, second = (
        {kind: _finish(kind, end, core, shift) for kind, core in cores.items()}
        for end, cores in zip(search.ends, search.cores, strict=True)
    )
    return first, second


def judge_facets(
    seen: Seen, axes: ColumnAxes, size: float, note: str = "", settled: Collection[FacetKind] = ()
) -> FoundFacets:
    """Which facets a joint may rest on.

    Parameters
    ----------
    note : words that the reason ends in
    settled : kinds of which nothing is questioned, because somebody has marked them
    """
    first, second = seen
    pairs = [(first[kind], second[kind]) for kind in ("centrum", *SIDES.values()) if kind in first and kind in second]
    objections = [
        f"{kind}: a facet on {(first.get(kind) or second[kind]).element.name} alone"
        for kind in ("centrum", *SIDES.values())
        if (kind in first) != (kind in second)
    ]
    kinds = {pair[0].kind for pair in pairs}
    if not kinds:
        alone = [
            replace(patch, objection="; ".join(objections)) for patches in (first, second) for patch in patches.values()
        ]
        why = "; ".join(objections) or "no facets found"
        return FoundFacets((), "ambiguous" if objections else "none", why, tuple(alone))
    sides = [kind for kind in SIDES.values() if kind in kinds]
    if len(sides) == 1 and sides[0] not in settled:
        objections.append(f"{sides[0]}: without its fellow on the other side")
    elif len(sides) == 2 and "centrum" in kinds and not set(sides) <= set(settled):
        objections += [objection for k in (0, 1) if (objection := _check_symmetry(pairs, k, axes, size))]
    objections += [
        f"{patch.kind} of {patch.element.name}: nothing bounds it"
        for pair in pairs
        for patch in pair
        if patch.openness > _OPEN_RIM
    ]
    if objections:
        sure = ("centrum", *settled)
        pairs = [pair for pair in pairs if pair[0].kind in sure]
        left = [patch for patches in (first, second) for patch in patches.values()]
        resting = {patch.kind for pair in pairs for patch in pair}
        unsure = [replace(patch, objection="; ".join(objections)) for patch in left if patch.kind not in resting]
        return FoundFacets(tuple(pairs), "ambiguous", "; ".join(objections) + note, tuple(unsure))
    words = ("the centra", f"centrum and {''.join(sides)}", "centrum and both zygapophyses")[len(sides)]
    return FoundFacets(tuple(pairs), "found", f"{words} face each other{note}")


def _tell_closing(closing: float) -> str:
    """Words on a closing [m]; none where the elements were left as they are."""
    if closing == 0:
        return ""
    way = "closing up" if closing > 0 else "moving apart"
    return f"; found after {way} by {abs(closing) * 1e3:.1f} mm along the column"


def _check_symmetry(pairs: list[tuple[Patch, Patch]], k: int, axes: ColumnAxes, size: float) -> str:
    """Words where left and right zygapophyses of one of the two elements are not mirror images; else none.

    They mirror each other in the element's own middle plane, however the element is turned against its neighbour:
    across the line that joins the two, through the middle of the end plate.
    """
    by_kind = {pair[0].kind: pair[k] for pair in pairs}
    left, right = by_kind[SIDES[1]], by_kind[SIDES[-1]]
    across = left.points.mean(axis=0) - right.points.mean(axis=0)
    across /= max(float(np.linalg.norm(across)), 1e-12)
    if float(across @ axes.left) < _LEVEL_COS:
        return f"zygapophyses of {left.element.name} do not lie level"
    middle = (left.points.mean(axis=0) + right.points.mean(axis=0)) / 2
    apart = 2 * abs(float((middle - by_kind["centrum"].points.mean(axis=0)) @ across))
    mirror = np.eye(3) - 2 * np.outer(across, across)
    if apart > _ASYMMETRY_S * size or float(left.normal @ mirror @ right.normal) < _ASYMMETRY_COS:
        return f"zygapophyses of {left.element.name} are not mirror images ({apart / size:.2f} s apart)"
    return ""
