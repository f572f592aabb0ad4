"""Feet and the legs that hold them: which joints turn while a foot stays, and what of it may roll over its toes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..posing.posing import Posing
from ..site.site import Site
from ..skeleton.bone_names import read_bone_name
from ..skeleton.pose import Pose
from ..skeleton.tree import Foot
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply
from ..statics.supports import list_supports
from .posing import AttitudeGoal, PlaceGoal


@dataclass(frozen=True, eq=False)
class Toe:
    """A toe: what of a foot lies beyond the carrier on one way.

    joints : children of its joints that turn, the nearest to the carrier first
    low : its elements that may touch the ground; low_m : height of their lowest point in the world [m]
    pin : where it stands: the middle of the bearing points of the outermost element that bears; its lowest point where
        none does
    base : the child of its first joint that turns; at_m : where that joint's centre stands, in the world (3,)
    flat : the attitudes of its elements from the base on
    """

    joints: tuple[str, ...]
    low: tuple[str, ...]
    low_m: float
    pin: PlaceGoal
    base: str
    at_m: Array
    flat: tuple[AttitudeGoal, ...]


@dataclass(frozen=True, eq=False)
class Rolling:
    """A foot that may roll over its toes; carrier : the element that all of them hang on (of the metatarsus)."""

    foot: str
    carrier: str
    toes: tuple[Toe, ...]


def list_above(posing: Posing, element: str) -> list[str]:
    """An element and all that carries it, up to the root."""
    above = [element]
    while above[-1] in posing.rows:
        above.append(posing.skeleton.joints[posing.rows[above[-1]]].parent)
    return above


def find_legs(posing: Posing, feet: Sequence[str]) -> tuple[list[str], list[str]]:
    """Children of the joints that carry feet, by which these can be held; of each foot an element to hold.

    The joints within a foot do not turn: it stays as it is, and one of its elements stands for all.

    Raises
    ------
    SkeletonError : a foot of that name is not there, or it belongs to no chain
    """
    turning: list[str] = []
    held: list[str] = []
    for foot in (posing.skeleton.feet[posing.skeleton.foot_index(name)] for name in feet):
        elements = [contact.element for contact in foot.contacts]
        above = list_above(posing, elements[0])
        carrying = set(above).intersection(*(list_above(posing, other) for other in elements))
        turning += [own for own in _list_leg(posing, above, foot.name) if own in carrying and own not in turning]
        held.append(elements[0])
    return turning, held


def find_own_leg(posing: Posing, foot: str) -> list[str]:
    """Children of the joints by which a foot alone moves: of its leg, those that carry no other; see `find_legs`."""
    skeleton = posing.skeleton
    others = {
        own
        for other in skeleton.feet
        if other.name != foot
        for contact in other.contacts
        for own in list_above(posing, contact.element)
    }
    return [own for own in find_legs(posing, [foot])[0] if own not in others]


def _list_leg(posing: Posing, above: Sequence[str], foot: str) -> tuple[str, ...]:
    """Children of a limb's joints from the trunk down; where none of them turns those of the chain that carries it."""
    skeleton = posing.skeleton
    limb = [own for own in above if own in posing.rows and skeleton.elements[posing.index(own)].series == "limb"]
    if any(posing.find_joint(own).moves for own in limb):
        return tuple(reversed(limb))
    for own in above:
        for chain in posing.chains:
            if own in chain.children:
                return chain.children
    raise SkeletonError(foot, "it belongs to no chain", "hold the other feet")


def find_ground(posing: Posing, site: Site) -> dict[str, float]:
    """Height of the ground under each foot, by its name [m]."""
    names = [foot.name for foot in posing.skeleton.feet]
    return dict(zip(names, (site.ground_m + list_supports(names, site.footings).height_m).tolist(), strict=True))


def place_points(posing: Posing, pose: Pose, foot: Foot) -> dict[str, Array]:
    """What of a foot may touch the ground, (n, 3) in the world by element."""
    placed = posing.place(pose)
    return {
        own.element: apply(placed[posing.index(own.element)], np.asarray(own.points_m, float).reshape(-1, 3))
        for own in foot.contacts
    }


@cache
def is_metapodial(element: str) -> bool:
    """Whether its name says that it is a bone of midfoot or ankle: its joint is none of a toe, where it moves."""
    return read_bone_name(element).kind in ("metatarsal", "metacarpal", "tarsal", "carpal")


def find_rolling(posing: Posing, pose: Pose, site: Site, name: str) -> Rolling:
    """A foot's toes, and what rolls over them. A toe that does not bear keeps its height as well.

    Raises
    ------
    SkeletonError : no foot of that name; none of its toes stands on the ground in the pose, or only such as are fixed
    """
    skeleton = posing.skeleton
    foot = skeleton.feet[skeleton.foot_index(name)]
    level = find_ground(posing, site)[name] + site.contact_tolerance_m
    points, placed = place_points(posing, pose, foot), posing.place(pose)
    ways = {element: list_above(posing, element) for element in points}
    shared = [own for own in next(iter(ways.values())) if all(own in way for way in ways.values())]
    carrier = shared[0] if len(points) > 1 or len(shared) < 2 else shared[1]
    digits: dict[str, list[str]] = {}
    for element, way in ways.items():
        beyond = [own for own in way[: way.index(carrier)] if posing.find_joint(own).moves and not is_metapodial(own)]
        if beyond:  # else it goes with the metatarsus
            digits.setdefault(beyond[-1], []).append(element)
    toes, bears = [], False
    for base, elements in digits.items():
        low = min(float(points[own][:, 2].min()) for own in elements)
        on, bears = max(level, low), bears or low <= level
        tip = max((own for own in elements if points[own][:, 2].min() <= on), key=lambda own: len(ways[own]))
        middle = points[tip][points[tip][:, 2] <= on].mean(axis=0)
        pin = PlaceGoal(tip, apply(np.linalg.inv(placed[posing.index(tip)]), middle[None])[0], middle)
        parent = posing.index(posing.find_joint(base).parent)
        X_parent = placed[parent] @ np.linalg.inv(skeleton.elements[parent].X_WE)
        at = apply(X_parent, posing.find_joint(base).X_WJ[:3, 3][None])[0]
        flat = tuple(AttitudeGoal(own, placed[posing.index(own)][:3, :3]) for own in dict.fromkeys((base, *elements)))
        every = {own for element in elements for own in ways[element][: ways[element].index(carrier)]}
        turning = (own for own in every if posing.find_joint(own).moves and not is_metapodial(own))
        joints = tuple(sorted(turning, key=posing.rows.__getitem__))
        toes.append(Toe(joints, tuple(elements), low, pin, base, at, flat))
    if not bears and min(float(own[:, 2].min()) for own in points.values()) <= level:
        raise SkeletonError(name, "what of it stands on the ground does not turn", "let the joints of its toes turn")
    if not bears:
        raise SkeletonError(name, "none of its toes stands on the ground", "set it down first: Feet to the Ground")
    return Rolling(name, carrier, tuple(toes))
