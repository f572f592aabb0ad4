"""Which points of the feet stand on the ground in a pose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array
from .site import Site
from .stability import find_outline


@dataclass(frozen=True, eq=False)
class Contacts:
    """The corners of every standing foot's outline: the points through which the ground carries.

    points_m : (m, 3) world
    foot, body : (m,) index of the foot and of the body that each belongs to
    """

    points_m: Array
    foot: np.ndarray
    body: np.ndarray


def find_contacts(points_m: Array, foot: np.ndarray, body: np.ndarray, site: Site) -> Contacts:
    """Contacts among the feet's points (c, 3) [m] in the pose: those near enough to the ground, or below it.

    Of each foot only the corners of its convex outline in plan are kept: under a rigid foot any upward pressure within
    can be had from forces at the corners, and none beyond.
    """
    stands = np.flatnonzero(points_m[:, 2] <= site.ground_m + site.contact_tolerance_m)
    kept = []
    for f in np.unique(foot[stands]):
        own = stands[foot[stands] == f]
        kept.append(own[find_outline(points_m[own, :2])])
    index = np.concatenate(kept) if kept else np.zeros(0, int)
    return Contacts(points_m[index], foot[index], body[index])
