"""Which points of the feet stand on the ground in a pose."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ..site.site import Site
from ..spatial.transforms import Array
from .polygon import find_outline

OUTLINE_SHARE = 0.01
"""Corners of a foot's outline that stand out less than this share of its extent are left out: the support polygon
shrinks by no more than that, and a scanned foot has some ten corners instead of a hundred."""


@dataclass(frozen=True, eq=False)
class Contacts:
    """The corners of every standing foot's outline: the points through which the ground carries.

    points_m : (m, 3) world
    foot, body : (m,) index of the foot and of the body that each belongs to
    ground_m : (m,) height of the ground under each, world
    """

    points_m: Array
    foot: np.ndarray
    body: np.ndarray
    ground_m: Array

    @property
    def on_ground_m(self) -> Array:
        """Where each meets the ground (m, 3): what a point is off it within the tolerance, shims or grout make up."""
        return np.column_stack([self.points_m[:, :2], self.ground_m])


def find_contacts(
    points_m: Array,
    foot: np.ndarray,
    body: np.ndarray,
    site: Site,
    idle: Collection[int] = (),
    heights_m: Sequence[float] = (),
) -> Contacts:
    """Contacts among the feet's points (c, 3) [m] in the pose: those near enough to the ground, or below it.

    idle : indices of the feet that bear nothing, wherever they are
    heights_m : of the ground under every foot above the site's; none: the ground is level

    Of each foot only the corners of its convex outline in plan are kept, those that stand out (`OUTLINE_SHARE`): under
    a rigid foot any upward pressure within can be had from forces at the corners, and none beyond.
    """
    ground = site.ground_m + (np.asarray(heights_m, float)[foot] if len(heights_m) else np.zeros(len(foot)))
    stands = np.flatnonzero(points_m[:, 2] <= ground + site.contact_tolerance_m)
    kept = []
    for f in np.flatnonzero(np.bincount(foot[stands])):
        if f in idle:
            continue
        own = stands[foot[stands] == f]
        if len(own) > 1:
            own = own[find_outline(points_m[own, :2])]
            own = own[_thin_outline(points_m[own, :2])]
        kept.append(own)
    index = np.concatenate(kept) if kept else np.zeros(0, int)
    return Contacts(points_m[index], foot[index], body[index], ground[index])


def _thin_outline(outline: Array) -> list[int]:
    """Corners of a convex outline (k, 2) that stand out from the line past them; the least first, three are kept."""
    kept = list(range(len(outline)))
    extent = float((outline.max(axis=0) - outline.min(axis=0)).max())
    xy = outline.tolist()
    heights = {i: _stand_out(xy, kept, at) for at, i in enumerate(kept)} if len(kept) > 3 else {}
    while len(kept) > 3:
        least = min(kept, key=heights.__getitem__)
        if heights[least] >= OUTLINE_SHARE * extent:
            break
        at = kept.index(least)
        kept.remove(least)
        for beside in (at - 1, at % len(kept)):
            heights[kept[beside]] = _stand_out(xy, kept, beside % len(kept))
    return kept


def _stand_out(xy: list[list[float]], kept: list[int], at: int) -> float:
    """How far a corner stands out from the line between its neighbours."""
    (ax, ay), (bx, by), (cx, cy) = xy[kept[at - 1]], xy[kept[at]], xy[kept[(at + 1) % len(kept)]]
    ux, uy = cx - ax, cy - ay
    return abs(ux * (by - ay) - uy * (bx - ax)) / math.hypot(ux, uy)
