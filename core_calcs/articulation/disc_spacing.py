"""Two neighbours of a column set apart, or together, until the disc between their end plates is as thick as wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..skeleton.joint import Facet
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, make_transform, round_places
from .covering import prepare_facet_contact
from .facets import FoundFacets, Patch
from .motions import move_patch, move_rigidly
from .partner import Partner

_THICKEST_S = 1.0
"""A disc is no thicker than so many sizes of the smaller element: beyond that a unit was mistaken."""


@dataclass(frozen=True, eq=False)
class Spaced:
    """A child moved along the column for its disc.

    shift_m : (3,) its translation in the world
    facets : as they then lie, with the gaps they then have
    """

    child: Partner
    facets: FoundFacets
    shift_m: Array


def require_thickness(child: str, thickness_m: float, size: float) -> None:
    """SkeletonError where no disc can be so thick between elements of which the smaller has this size [m]."""
    if not (np.isfinite(thickness_m) and thickness_m >= 0):
        what = f"a disc cannot be {1000 * thickness_m:g} mm thick"
        raise SkeletonError(f"joint of {child}", what, "give 0 or more")
    if thickness_m > _THICKEST_S * size:
        what = f"a disc of {1000 * thickness_m:.4g} mm is thicker than its element is long ({1000 * size:.3g} mm)"
        raise SkeletonError(f"joint of {child}", what, "check the unit: millimetres, or a share of the size s")


def find_disc_shift(on_parent: Patch | Facet, on_child: Patch | Facet, along: Array, thickness_m: float) -> Array:
    """(3,) by which a child is to be moved along the column (unit, away from its parent) for a disc so thick.

    The thickness is the mean of the end plates' gaps, each along its own mean normal.
    """
    grows = float(along @ (on_parent.normal - on_child.normal)) / 2
    return round_places(along * (thickness_m - (on_parent.gap_m + on_child.gap_m) / 2) / grows)


def widen_gap(facet: Patch | Facet, shift_m: Array, moves: bool) -> float:
    """A facet's gap after the child has been moved by `shift_m` (3,); moves: whether it lies on the child [m]."""
    return facet.gap_m + (-1 if moves else 1) * float(shift_m @ facet.normal)


def space_by_disc(parent: Partner, child: Partner, found: FoundFacets, along: Array, thickness_m: float) -> Spaced:
    """Move a child until the mean gap of the end plates is `thickness_m`.

    Raises
    ------
    SkeletonError : no end plates are found; a thickness that no disc has, or at which facets by which the two meet do
        not lie over each other any more
    """
    require_thickness(child.name, thickness_m, min(parent.size, child.size))
    if found.centrum is None:
        what = f"no end plates are found between {parent.name} and {child.name}, so that they have no disc"
        raise SkeletonError(f"joint of {child.name}", what, "name a joint that has end plates")
    on_parent, on_child = sorted(found.centrum, key=lambda patch: patch.element is child)
    shift = find_disc_shift(on_parent, on_child, along, thickness_m)
    D = make_transform(np.eye(3), shift)
    moved = move_rigidly(child, D)

    def move(patches: Sequence[Patch]) -> tuple[Patch, ...]:
        there = [move_patch(patch, moved, D) if patch.element is child else patch for patch in patches]
        gaps = [widen_gap(patch, shift, patch.element is child) for patch in patches]
        return tuple(replace(patch, gap_m=gap) for patch, gap in zip(there, gaps, strict=True))

    pairs = tuple((first, second) for first, second in map(move, found.pairs))
    _require_meeting(child, pairs, thickness_m)
    return Spaced(moved, replace(found, pairs=pairs, unsure=move(found.unsure)), shift)


def _require_meeting(child: Partner, pairs: Sequence[tuple[Patch, Patch]], thickness_m: float) -> None:
    for first, second in pairs:
        if prepare_facet_contact(first, second, False) is None:
            what = f"at {1000 * thickness_m:.4g} mm its facets ({first.kind}) do not lie over each other"
            raise SkeletonError(f"joint of {child.name}", what, "give a thickness at which they do")
