"""Figures of joints and beams under what acts on a pose besides its weight."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..spatial.transforms import Array

Figure = Literal["tension", "compression", "shear", "torsion", "bending"]
Level = Literal["characteristic", "design"]


@dataclass(frozen=True, eq=False)
class Part:
    """One action in a combination: the factor on it, psi 0 included, and the way (3,) in which it acts."""

    action: str
    factor: float
    direction: Array


@dataclass(frozen=True, eq=False)
class WorstLoad:
    """The greatest value of one figure at one joint over all combinations.

    chain : the beam along whose axes it is; empty: the joint's own axes
    value_N_or_Nm : > 0 also of compression, which is below 0 where none comes about; shear and bending of both axes;
        None: not known
    load : (6,) what else passes through it at the same time: axial, shear (2), torsion, bending (2)
    expression : its number in EN 1990
    permanent : factor on the self-weight
    leading : empty where no action leads
    parts : every action that acts in it
    """

    joint: str
    chain: str
    level: Level
    figure: Figure
    value_N_or_Nm: float | None
    load: Array | None
    expression: str
    permanent: float
    leading: str
    parts: tuple[Part, ...]
    missing: str = ""


@dataclass(frozen=True, eq=False)
class Acted:
    """The worst of every joint, in its own axes, and along every beam in the beam's.

    missing : what would have to be known; nothing is listed then
    """

    joints: tuple[WorstLoad, ...]
    beams: tuple[WorstLoad, ...]
    missing: tuple[str, ...] = ()
