"""What acts on the skeleton where it stands, besides its own weight: plain values, as the user gives them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ActionKind = Literal["push", "pull", "person"]
DEFAULT_N: dict[ActionKind, float] = {"push": 1500.0, "pull": 1500.0, "person": 2000.0}
"""Characteristic forces to start from: a push of 1.0 to 1.5 kN; a person of 1.0 kN, twice for movement (common
practice, no source: no guidance is written for sculptures)."""


@dataclass(frozen=True)
class PointAction:
    """One force at one point of an element, which goes with it into every pose.

    kind : a push or pull by hand, or a person's weight, which acts straight down
    point_m : in the element's frame E
    force_N : characteristic value
    direction : unit vector in the world; None: of a push or pull horizontally whichever way is worst, of a person down
    """

    name: str
    kind: ActionKind
    element: str
    point_m: tuple[float, float, float]
    force_N: float
    direction: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Wind:
    """One pressure on the silhouette that the whole shows to the wind, from every direction in turn.

    pressure_Pa : characteristic peak velocity pressure
    force_coefficient : of the silhouette's area. 1.2 is that of rough round members, 2.0 of plates (EN 1991-1-4, 7.9,
        7.4: from memory)
    """

    pressure_Pa: float
    force_coefficient: float = 1.2


@dataclass(frozen=True)
class Factors:
    """Partial factors on actions, for static equilibrium and for strength (EN 1990, tables A1.2(A), (B): from memory).

    permanent_against, permanent_for : of the self-weight that overturns, and of that which holds; each element's weight
        takes its own
    variable_against : of whatever else overturns; what of it holds counts nothing
    accompanying : share of every variable action but the leading one (psi 0): that of people (category C), which is a
        little more than wind's .6
    resistance : what friction and anchors are divided by
    strength_against, strength_for : set STR, for what passes through joints: of the self-weight as a whole where it is
        against, and where it is for them
    strength_variable : set STR, of whatever else acts where it is against them; what is for them counts nothing
    reduction : xi on `strength_against` beside a leading action, (6.10b), .85 there; 1: (6.10) instead of (6.10a, b)
    """

    permanent_against: float = 1.1
    permanent_for: float = 0.9
    variable_against: float = 1.5
    accompanying: float = 0.7
    resistance: float = 1.0
    strength_against: float = 1.35
    strength_for: float = 1.0
    strength_variable: float = 1.5
    reduction: float = 1.0


@dataclass(frozen=True)
class Footing:
    """What is under one foot.

    height_m : of the ground under it above the site's ground
    stiffness_N_m : of the foot and what is under it, vertically; None: as stiff as every other that names none
    friction : coefficient between the foot and what is under it; None: not known
    anchored : it can be pulled at
    anchor_N : characteristic tension that its anchors hold; None: not known
    """

    foot: str
    height_m: float = 0.0
    stiffness_N_m: float | None = None
    friction: float | None = None
    anchored: bool = False
    anchor_N: float | None = None
