"""How far two neighbours of a column must be moved together, along it, for their facets to face each other best.

A facet found is the same wherever its partner stands, so long as the two face each other: elements that were laid out
too far apart, or a little into each other, are moved for the search alone.
"""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array
from .column import ColumnAxes
from .facet_cores import SIDES, CoreSearch, search_cores
from .partner import Partner

_LEAST_S, _WIDEST_S, _STEP_S = -0.15, 3.0, 0.1
"""Closings tried first (shares of s): a little apart, for elements that overlap, up to together by so much, or until
the two centres meet."""
_HALVINGS = 2
_PAST = 0.5
"""Two steps in a row whose end plates meet over less than this share of the best lie beyond it."""
_STILL_MEETS = 0.5
"""Zygapophyses count where the end plates meet over at least this share of what they do at best."""
_AS_GOOD = 0.9
"""Of closings that are as good to this share of the best, the one that moves least is taken."""
_OVERLAP_S, _FARTHEST_S = 0.03, 0.30
"""Elements that overlap deeper than the one are parted until they do not and as much farther; no farther than the
other, from where nothing faces its partner any more."""
_BISECTIONS = 12


def find_best_closing(headward: Partner, tailward: Partner, axes: ColumnAxes) -> CoreSearch | None:
    """The search with the headward element moved towards the tailward one by what makes their facets meet best.

    Best is the greatest product of the centrum's and the smaller zygapophysis's area; where no closing shows all three,
    the greatest area of the centrum. None where the end plates never face each other.
    """
    size = min(headward.size, tailward.size)
    tried = _try_far_and_wide(headward, tailward, axes, size)
    step = _STEP_S * size
    for _ in range(_HALVINGS):
        step /= 2
        best = _pick_best(tried).closing
        tried += [search_cores(headward, tailward, axes, best + way * step) for way in (-1, 1)]
    found = _pick_best(tried)
    return found if found.area_s2("centrum") > 0 else None


def find_parted(headward: Partner, tailward: Partner, axes: ColumnAxes) -> CoreSearch | None:
    """The search with two elements that overlap moved apart along the column until they just do not, and .03 s more.

    Where bones are inside each other rays meet other parts of the partner than those that face them, or none. How far
    they were pushed together then does not matter. None where they overlap by less than .03 s, or interlock so that
    they do not come free within .30 s.
    """
    size = min(headward.size, tailward.size)
    least = _OVERLAP_S * size
    if _measure_overlap(headward, tailward, np.zeros(3)) <= least:
        return None
    inside, free = 0.0, _FARTHEST_S * size
    if _measure_overlap(headward, tailward, axes.head * free) > 0:
        return None
    for _ in range(_BISECTIONS):
        middle = (inside + free) / 2
        still = _measure_overlap(headward, tailward, axes.head * middle) > 0
        inside, free = (middle, free) if still else (inside, middle)
    return search_cores(headward, tailward, axes, -free - least)


def _measure_overlap(headward: Partner, tailward: Partner, shift: Array) -> float:
    """How deep the deepest sample of either lies in the other [m], the headward one moved by `shift` (3,)."""
    return -min(
        float(headward.grid.distances(tailward.samples.points - shift).min()),
        float(tailward.grid.distances(headward.samples.points + shift).min()),
    )


def _try_far_and_wide(headward: Partner, tailward: Partner, axes: ColumnAxes, size: float) -> list[CoreSearch]:
    """Searches at closings from a little apart to beyond where the end plates meet best."""
    widest = min(_WIDEST_S, float((headward.centre - tailward.centre) @ axes.head) / size)
    tried = [search_cores(headward, tailward, axes, 0.0)]
    best, before = 0.0, 0.0
    for share in np.arange(_LEAST_S, max(widest, 0.0), _STEP_S):
        tried.append(search_cores(headward, tailward, axes, float(share) * size))
        meets = tried[-1].area_s2("centrum")
        if max(meets, before) < _PAST * best:
            break
        best, before = max(best, meets), meets
    return tried


def _pick_best(tried: list[CoreSearch]) -> CoreSearch:
    """Of the searches as good as the best, the one that moves least."""
    widest = max(search.area_s2("centrum") for search in tried)
    worth = [_rate(search, _STILL_MEETS * widest) for search in tried]
    if not max(worth) > 0:
        worth = [search.area_s2("centrum") for search in tried]
    good = [search for search, value in zip(tried, worth, strict=True) if value >= _AS_GOOD * max(worth)]
    return min(good, key=lambda search: abs(search.closing))


def _rate(search: CoreSearch, least_centrum: float) -> float:
    """Product of the areas of the centrum and the smaller zygapophysis; 0 where one of the three is missing."""
    centrum = search.area_s2("centrum")
    return centrum * min(search.area_s2(kind) for kind in SIDES.values()) if centrum >= least_centrum else 0.0
