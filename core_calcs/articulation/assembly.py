"""Closing up: a neighbour moved along the column until its facets stand at the gap that is wanted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array
from .closings import find_best_closing
from .column import ColumnAxes
from .facets import FoundFacets, Patch, take_to_rims
from .partner import Partner

_LEANS = 0.5
"""Facets whose normal lies within 60° of the column close when the elements are moved along it; others slide."""


@dataclass(frozen=True, eq=False)
class ClosedUp:
    """How a child is to be moved so that its facets meet its parent's at the wanted gap.

    shift_m : (3,) translation of the child in the world, along the column
    closing_m : its length; negative where the two are moved apart
    facets : by which they meet; gaps are those before the move
    """

    shift_m: Array
    closing_m: float
    facets: FoundFacets


def close_up(parent: Partner, child: Partner, axes: ColumnAxes, child_headward: bool, gap_m: float) -> ClosedUp:
    """Move a child towards its parent along the joint's direction until the closest facets are `gap_m` apart [m].

    Closest are, of the facets that the move brings nearer to each other, those that reach the gap first: mostly the end
    plates, as zygapophyses slide along each other. A gap is the mean distance of two facets along their normals.

    Raises
    ------
    SkeletonError : the gap is negative or no number, or nowhere along the column do the end plates face each other
    """
    if not (np.isfinite(gap_m) and gap_m >= 0):
        raise SkeletonError(child.name, f"a gap of {gap_m} m cannot be had", "give nought or more")
    headward, tailward = (child, parent) if child_headward else (parent, child)
    search = find_best_closing(headward, tailward, axes)
    found = None if search is None else take_to_rims(search)
    if found is None or found.centrum is None:
        raise SkeletonError(
            child.name,
            f"its end plate faces that of {parent.name} nowhere along the column",
            "turn and place it roughly by hand first",
        )
    closings = [_reach(pair, axes, gap_m) for pair in found.pairs if _lean(pair, axes) >= _LEANS]
    closing = min(closings)
    shift = axes.head * (-closing if child_headward else closing)
    return ClosedUp(shift, closing, found)


def move_partner(element: Partner, shift_m: Array) -> Partner:
    """The same element moved by a translation (3,)."""
    shift = np.asarray(shift_m, float)
    samples = replace(element.samples, points=element.samples.points + shift)
    grid = replace(element.grid, lower=element.grid.lower + shift)
    surface = replace(element.surface, vertices=element.surface.vertices + shift)
    crests = element.crests + shift
    return replace(element, centre=element.centre + shift, samples=samples, grid=grid, crests=crests, surface=surface)


def move_patch(patch: Patch, moved: Partner, shift_m: Array) -> Patch:
    """A facet of an element that was moved by a translation (3,); its gap is left as it was."""
    fine = patch.fine and replace(patch.fine, points=patch.fine.points + shift_m)
    return replace(patch, element=moved, fine=fine)


def _lean(pair: tuple[Patch, Patch], axes: ColumnAxes) -> float:
    """Cosine between two facets' common normal and the column."""
    normal = pair[1].normal - pair[0].normal
    return float(normal @ axes.head) / max(float(np.linalg.norm(normal)), 1e-12)


def _reach(pair: tuple[Patch, Patch], axes: ColumnAxes, gap_m: float) -> float:
    """How far two facets must be closed up along the column to be `gap_m` apart."""
    return ((pair[0].gap_m + pair[1].gap_m) / 2 - gap_m) / _lean(pair, axes)
