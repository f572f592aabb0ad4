"""Two neighbours of a column that stand roughly in place, brought to each other by the facets that they then show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array
from .column import ColumnAxes, column_axes
from .facets import FoundFacets, find_facets
from .mating import Mated, mate
from .midplanes import find_midplane
from .motions import move_rigidly
from .partner import Partner

_ROUNDS = 5
_STILL_S = 0.005
"""Rounds end when no point of the child moves by more than this share of its size."""


@dataclass(frozen=True, eq=False)
class Assembled:
    """A child brought to its parent.

    D : (4, 4) rigid motion of the child from where it was given, in the world
    child : there; facets : by which the two then meet, with the gaps that they then have
    mated : of the last round
    """

    D: Array
    child: Partner
    facets: FoundFacets
    mated: Mated


def mate_from_rough(
    parent: Partner,
    child: Partner,
    axes: ColumnAxes,
    child_headward: bool,
    gap_m: float | None = None,
    rounds: int = _ROUNDS,
) -> Assembled:
    """Bring a child, roughly in place, to its parent: facets are found, mated, and found again until it stands still.

    Parameters
    ----------
    axes : of the column where the two stand; after each round they go from middle to middle again
    gap_m : wanted between the end plates; None: not known
    rounds : at most so many

    Raises
    ------
    SkeletonError : the gap is negative or no number; the end plates face each other nowhere along the column
    """
    if gap_m is not None and not (np.isfinite(gap_m) and gap_m >= 0):
        raise SkeletonError(child.name, f"a gap of {gap_m} m cannot be had", "give 0 or more")
    planes = tuple(find_midplane(element, axes.left) for element in (parent, child))
    D, moved, found = np.eye(4), child, _find(parent, child, axes, child_headward)
    for _ in range(rounds):
        pairs = [pair if pair[0].element is parent else pair[::-1] for pair in found.pairs]
        gaps = [gap_m if pair[0].kind == "centrum" else None for pair in pairs]
        start = np.eye(4) if len(pairs) == 1 else None  # of more facets no place is better to begin at than their own
        mated = mate(pairs, gaps, (planes[0], planes[1].move(D)), start)
        before, D = moved, mated.D @ D
        moved = move_rigidly(child, D)
        headward, tailward = (moved, parent) if child_headward else (parent, moved)
        axes = column_axes(headward.centre, tailward.centre, axes)
        found = _find(parent, moved, axes, child_headward)
        if np.abs(moved.samples.points - before.samples.points).max() < _STILL_S * child.size:
            break
    return Assembled(D, moved, found, mated)


def _find(parent: Partner, child: Partner, axes: ColumnAxes, child_headward: bool) -> FoundFacets:
    found = find_facets(*((child, parent) if child_headward else (parent, child)), axes)
    if found.centrum is None:
        what = f"its end plate faces that of {parent.name} nowhere along the column"
        raise SkeletonError(child.name, what, "turn and place it roughly by hand first")
    return found
