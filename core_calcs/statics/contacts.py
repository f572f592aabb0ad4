"""Which points of the feet stand on the ground in a pose."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

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
    heights_m: Sequence[float] | Array = (),
) -> Contacts:
    """Contacts among the feet's points (c, 3) [m] in the pose: those near enough to the ground, or below it.

    idle : indices of the feet that bear nothing, wherever they are
    heights_m : of the ground under every foot above the site's; none: the ground is level

    Of each foot only the corners of its convex outline in plan are kept, those that stand out (`OUTLINE_SHARE`): under
    a rigid foot any upward pressure within can be had from forces at the corners, and none beyond.
    """
    corners = find_corners(points_m, foot, site, idle, heights_m)
    return take_corners(points_m, foot, body, site, corners, heights_m)


def take_corners(
    points_m: Array,
    foot: np.ndarray,
    body: np.ndarray,
    site: Site,
    corners: Mapping[int, np.ndarray],
    heights_m: Sequence[float] | Array = (),
) -> Contacts:
    """Contacts at the corners that `find_corners` found."""
    index = np.concatenate(list(corners.values())) if corners else np.zeros(0, int)
    return Contacts(points_m[index], foot[index], body[index], find_ground(foot[index], site, heights_m))


def find_ground(foot: np.ndarray, site: Site, heights_m: Sequence[float] | Array = ()) -> Array:
    """Height of the ground (c,) under points of feet (c,), world; heights as in `find_contacts`."""
    ground: Array = site.ground_m + (np.asarray(heights_m, float)[foot] if len(heights_m) else np.zeros(len(foot)))
    return ground


def find_corners(
    points_m: Array,
    foot: np.ndarray,
    site: Site,
    idle: Collection[int] = (),
    heights_m: Sequence[float] | Array = (),
    known: Mapping[int, np.ndarray] | None = None,
) -> dict[int, np.ndarray]:
    """Indices of the points (c, 3) that are contacts, by foot; as `find_contacts`.

    known : these of feet that are where they were
    """
    stands = np.flatnonzero(points_m[:, 2] <= find_ground(foot, site, heights_m) + site.contact_tolerance_m)
    corners = {}
    for f in np.flatnonzero(np.bincount(foot[stands])).tolist():
        if f in idle:
            continue
        if known and f in known:
            corners[f] = known[f]
            continue
        own = stands[foot[stands] == f]
        corners[f] = own[_find_corners(np.asarray(points_m[own, :2], float).tobytes())] if len(own) > 1 else own
    return corners


@lru_cache(maxsize=64)
def _find_corners(plan: bytes) -> np.ndarray:
    """Which of a foot's points (n, 2) are corners; kept, for of a skeleton's feet few move from one pose to the next.

    plan : the points as bytes
    """
    points = np.frombuffer(plan, np.float64).reshape(-1, 2)
    outline = find_outline(points)
    corners: np.ndarray = outline[_thin_outline(points[outline])]
    return corners


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
