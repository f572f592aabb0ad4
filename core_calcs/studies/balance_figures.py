"""What a study of the balance of one pose finds. SI units, world frame of the pose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array
from ..statics.contacts import Contacts
from ..statics.rose import Rose
from ..statics.supports import Supports

SELF_WEIGHT = "self-weight"
"""Name and kind of the case in which nothing else acts."""


@dataclass(frozen=True, eq=False)
class Stance:
    """A pose as its balance sees it.

    corners : indices of the contacts at the corners of the support polygon, counter-clockwise, three at least
    weights_N, centres_m : (n,), (n, 3) of every body
    centre_m : (3,) centre of mass of the whole
    """

    contacts: Contacts
    corners: np.ndarray
    feet: tuple[str, ...]
    supports: Supports
    weights_N: Array
    centres_m: Array
    centre_m: Array


@dataclass(frozen=True, eq=False)
class FootReaction:
    """What the ground does to a standing foot, characteristic values (no partial factors).

    force_N : (3,) the upward part by springs, the part along the ground shared as friction would (a convention)
    range_N : (least, greatest) upward force on a rigid base; None where anchors leave it open
    """

    foot: str
    force_N: Array
    range_N: tuple[float, float] | None


@dataclass(frozen=True, eq=False)
class BalanceCase:
    """One combination: self-weight alone, or with one action leading.

    name, kind : of the leading action, or self-weight
    edge : index of the governing edge of the support polygon; `place` names its feet
    force_N : (3,) of the leading action in the way that governs; None for self-weight
    accompanying : names of the actions that act with it about that edge
    holding_Nm, overturning_Nm : design moments about that edge
    overturning : utilisation, 1 is used up; `by_edge` (k,) about every edge
    anchored : the same with the anchors that are there; None where there are none or their strength is not known
    push_N, press_N, turn_Nm : (2,) design force along the ground, force on it, moment about the vertical through the
        centre of pressure; turn_Nm is None where no reactions balance it
    friction : coefficient that is needed against sliding; infinite where nothing presses
    sliding : utilisation of the friction that is there; None where that is not known
    reactions : of every standing foot about the governing edge; None where the feet alone do not keep it; empty where
        nobody has looked
    """

    name: str
    kind: str
    edge: int
    place: str
    force_N: Array | None
    accompanying: tuple[str, ...]
    holding_Nm: float
    overturning_Nm: float
    overturning: float
    by_edge: Array
    anchored: float | None
    push_N: Array
    press_N: float
    turn_Nm: float | None
    friction: float
    sliding: float | None
    reactions: tuple[FootReaction, ...] | None


@dataclass(frozen=True, eq=False)
class Balance:
    """Everything about the balance of one pose.

    cases : self-weight first, then each action leading
    worst, slipping : indices of the cases that overturn and slide most
    anchored_feet : names of the standing feet that can be pulled at
    anchors : characteristic tension [N] that an anchor in the middle of each foot would have to hold so that no case
        overturns by more than is allowed, each axis held by the foot farthest from it alone; feet that need none are
        left out; infinite where no foot is away from the axis
    ballast : mass [kg] that does the same, at the whole's centre of mass or in the middle of one foot; None where no
        mass there does
    sliding_ballast_kg : mass, spread as the feet press, that friction lacks; None where friction is not known, or
        nothing presses
    rose : of the self-weight; None where it does not stand
    allowed_N : (n,) by the rose's directions: the characteristic horizontal force at its height that by itself uses up
        what EQU leaves; 0 where that is nothing; None without a rose
    """

    cases: tuple[BalanceCase, ...]
    worst: int
    slipping: int
    anchored_feet: tuple[str, ...]
    anchors: tuple[tuple[str, float], ...]
    ballast: tuple[tuple[str, float | None], ...]
    sliding_ballast_kg: float | None
    rose: Rose | None
    allowed_N: Array | None
