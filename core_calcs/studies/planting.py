"""Feet set down one by one, each on the ground under it: the legs bend, the body stays where it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..posing.posing import Posing
from ..site.site import Site
from ..skeleton.pose import Pose
from ..spatial.errors import SkeletonError
from ..spatial.transforms import apply
from .legs import find_ground, find_own_leg, place_points
from .posing import AttitudeGoal, PlaceGoal, reach

ROUNDS = 8
"""So often a foot is set anew: where its leg cannot keep its attitude its lowest point is another."""
LEVEL_M = 1e-6
"""A foot this near its ground is there."""


@dataclass(frozen=True, eq=False)
class Planted:
    """A foot after it was set down.

    moved_m : how far its lowest point has come up (> 0) or down
    off_m : how far above (> 0) or below its ground that still is
    shifted_m, turned_rad : how far the foot has moved along the ground, and turned
    at_limit : children of the joints of its leg that stand at the end of their range
    """

    foot: str
    moved_m: float
    off_m: float
    shifted_m: float
    turned_rad: float
    at_limit: tuple[str, ...]


def plant_feet(posing: Posing, pose: Pose, site: Site, feet: Sequence[str] = ()) -> tuple[Pose, tuple[Planted, ...]]:
    """Bring feet straight down or up until their lowest points are on the ground of their footings.

    A foot keeps its attitude as far as its leg lets it; what is out of reach comes as near as it can.

    Parameters
    ----------
    feet : by name; none: all limbs' feet that the pose lets bear

    Raises
    ------
    SkeletonError : no foot of that name, or there is none
    """
    skeleton, ground = posing.skeleton, find_ground(posing, site)
    limbs = {own.name for own in skeleton.elements if own.series == "limb"}
    names = feet or [
        own.name
        for own in skeleton.feet
        if own.name not in pose.idle_feet and all(contact.element in limbs for contact in own.contacts)
    ]
    if not names:
        raise SkeletonError(skeleton.name, "no foot of a limb is to bear", "let one bear, or name what is set down")
    planted = []
    for name in names:
        pose, own = _plant(posing, pose, name, ground[skeleton.feet[skeleton.foot_index(name)].name])
        planted.append(own)
    return pose, tuple(planted)


def _plant(posing: Posing, pose: Pose, name: str, ground_m: float) -> tuple[Pose, Planted]:
    skeleton = posing.skeleton
    foot = skeleton.feet[skeleton.foot_index(name)]
    legs, element = find_own_leg(posing, name), foot.contacts[0].element
    own = skeleton.elements[posing.index(element)]
    X = posing.place(pose)[posing.index(element)]
    begun = _find_low(posing, pose, name)
    place, found, off = apply(X, own.solid.centre_m[None])[0], pose, begun - ground_m
    limits: tuple[str, ...] = ()
    at = place
    for _ in range(ROUNDS):
        if abs(off) < LEVEL_M:
            break
        at = at - [0, 0, off]
        goal = PlaceGoal(element, own.solid.centre_m, at)
        reached = reach(posing, found, [goal], legs, start=pose, leaned=[AttitudeGoal(element, X[:3, :3])])
        found, limits = reached.pose, reached.at_limit
        off = _find_low(posing, found, foot.name) - ground_m
    Y = posing.place(found)[posing.index(element)]
    shifted = float(np.linalg.norm((apply(Y, own.solid.centre_m[None])[0] - place)[:2]))
    turned = float(np.arccos(np.clip((np.trace(X[:3, :3].T @ Y[:3, :3]) - 1) / 2, -1, 1)))
    return found, Planted(name, ground_m + off - begun, off, shifted, turned, limits)


def _find_low(posing: Posing, pose: Pose, name: str) -> float:
    """Height of a foot's lowest point [m]."""
    foot = posing.skeleton.feet[posing.skeleton.foot_index(name)]
    return min(float(points[:, 2].min()) for points in place_points(posing, pose, foot).values())
