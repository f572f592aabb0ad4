"""Facets of the column that were marked by hand: what was marked wins over what was found."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.spatial import cKDTree

from ..skeleton.joint import FacetKind
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array
from .column import ColumnAxes
from .facets import FoundFacets, Patch, finish_cores, judge_facets, search_best
from .facing import find_facing
from .partner import Partner
from .patches import Index, mean_normal, open_patch, split_patches

Marked = Mapping[str, Mapping[FacetKind, Index]]
"""Samples by name of the element and kind of facet."""

BY_HAND = "marked by hand"
_MIDLINE_S, _ALONG = 0.12, 0.75
"""The centrum's is a facet that looks along the column (cosine), or lies nearer to the plane through the centre."""
_BESIDE, _OPENING_S, _LEAST_SAMPLES = 2.0, 0.02, 20
"""What faces a marked facet meets it to so many spacings."""


def tell_kind(bone: Partner, index: Index, axes: ColumnAxes) -> FacetKind:
    """Which facet of a vertebra marked samples are: along the column or on the midline the centrum, else by side."""
    aside = float((bone.samples.points[index].mean(axis=0) - bone.centre) @ axes.left)
    along = abs(float(mean_normal(bone.samples, index) @ axes.head))
    if along >= _ALONG or abs(aside) <= _MIDLINE_S * bone.size:
        return "centrum"
    return "left zygapophysis" if aside > 0 else "right zygapophysis"


def find_marked_facets(headward: Partner, tailward: Partner, axes: ColumnAxes, marked: Marked) -> FoundFacets:
    """The facets by which two neighbours of a column meet, those that were marked as they were marked.

    A facet that is marked on one element alone has for its partner what was found there, else what faces it. Facets of
    kinds that nobody marked stay as they were found, and are questioned as ever.

    Raises
    ------
    SkeletonError : nothing of the other element faces a marked facet
    """
    ends = headward, tailward
    seen = finish_cores(search_best(*ends, axes))
    kinds: list[FacetKind] = sorted({kind for own in marked.values() for kind in own})
    for own, bone, other in zip(seen, ends, ends[::-1], strict=True):
        for kind, index in marked.get(bone.name, {}).items():
            own[kind] = _make_patch(bone, other, kind, index, BY_HAND)
    for kind in kinds:
        for own, theirs, bone in zip(seen, seen[::-1], ends, strict=True):
            if kind not in own:
                own[kind] = _face(bone, theirs[kind])
    found = judge_facets(seen, axes, min(headward.size, tailward.size), "", kinds)
    told = f"{', '.join(kinds)} {BY_HAND}; {found.reason}"
    return FoundFacets(found.pairs, found.confidence, told, found.unsure)


def _make_patch(bone: Partner, other: Partner, kind: FacetKind, index: Index, how: str) -> Patch:
    return Patch(kind, bone, np.sort(index), _measure_gap(bone.samples.points[index], other), how=how)


def _measure_gap(points: Array, other: Partner) -> float:
    """Mean distance of points (n, 3) to an element; beyond the reach of its grid that to its samples."""
    distances = other.grid.distances(points)
    beyond = distances > 0.999 * other.grid.band
    if beyond.any():
        distances[beyond] = cKDTree(other.samples.points).query(points[beyond])[0]
    return float(distances.mean())


def _face(bone: Partner, mark: Patch) -> Patch:
    """What of a bone faces a facet that is marked on its neighbour."""
    other, size = mark.element, min(bone.size, mark.element.size)
    facing = find_facing(bone, other, size, np.zeros(3))
    if len(facing.index):
        apart: Array = np.asarray(cKDTree(mark.points).query(facing.met_m)[0])
        near = facing.index[apart <= _BESIDE * other.samples.spacing]
        pieces = split_patches(bone.samples, open_patch(bone.samples, near, _OPENING_S * size))
        if pieces and len(pieces[0]) >= _LEAST_SAMPLES:
            return _make_patch(bone, other, mark.kind, pieces[0], f"faces the facet of {other.name}, {BY_HAND}")
    what = f"nothing of it faces the {mark.kind} that was marked on {other.name}"
    raise SkeletonError(bone.name, what, "mark its own facet as well")
