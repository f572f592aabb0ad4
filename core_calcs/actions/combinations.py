"""Combinations of actions at the ultimate limit state, after EN 1990, 6.4.3: one effect, its parts summed with factors.

Of each variable action the leading one counts in full and the others with psi 0; each leads once. Nothing here says
which standard, annex or value holds where the skeleton stands: the sets are starting points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Shares:
    """psi 0, 1, 2 of a variable action: beside another one; frequent; nearly always there."""

    combination: float
    frequent: float
    lasting: float


@dataclass(frozen=True)
class PartialFactors:
    """On permanent actions, where they are against and where they are for the structure, and on variable ones."""

    permanent_against: float
    permanent_for: float
    variable: float


EQU = PartialFactors(1.10, 0.90, 1.50)
STR = PartialFactors(1.35, 1.00, 1.50)
SET_C = PartialFactors(1.00, 1.00, 1.30)
"""EN 1990, tables A1.2(A) to (C): static equilibrium, strength, and strength of the ground."""
REDUCTION = 0.85
"""xi on permanent actions in (6.10b); table A1.2(B)."""
WIND, TEMPERATURE, PEOPLE = Shares(0.6, 0.2, 0.0), Shares(0.6, 0.5, 0.0), Shares(0.7, 0.7, 0.6)
"""Table A1.1, from memory: check before use; people as category C, where they may gather."""
SNOW = Shares(0.5, 0.2, 0.0)
"""The same, below 1000 m."""


def combine_lasting(
    permanent: float, variable: Sequence[tuple[float, Shares]], factors: PartialFactors = STR, share: float = 1.0
) -> list[float]:
    """(6.10): effects with each variable action leading in turn; that of permanent actions alone where there is none.

    Parameters
    ----------
    permanent : effect against the structure, characteristic
    variable : effects against it, each with its shares
    share : of the permanent effect's factor; (6.10b) with xi
    """
    fixed = factors.permanent_against * share * permanent
    if not variable:
        return [fixed]
    beside = [factors.variable * shares.combination * effect for effect, shares in variable]
    return [
        fixed + factors.variable * effect + sum(beside) - beside[i] for i, (effect, _) in enumerate(variable)
    ]  # fmt: skip


def combine_reduced(
    permanent: float, variable: Sequence[tuple[float, Shares]], factors: PartialFactors = STR
) -> tuple[float, list[float]]:
    """(6.10a), where no variable action leads, and (6.10b), where permanent ones are reduced by xi and each leads."""
    beside = sum(factors.variable * shares.combination * effect for effect, shares in variable)
    return factors.permanent_against * permanent + beside, combine_lasting(permanent, variable, factors, REDUCTION)


def combine_accidental(
    permanent: float, accident: float, variable: Sequence[tuple[float, Shares]], frequent: bool = True
) -> list[float]:
    """(6.11): an accidental action with each variable one leading by psi 1 (frequent) or psi 2, the others by psi 2."""
    if not variable:
        return [permanent + accident]
    lasting = [shares.lasting * effect for effect, shares in variable]
    leading = [(shares.frequent if frequent else shares.lasting) * effect for effect, shares in variable]
    return [permanent + accident + leading[i] + sum(lasting) - lasting[i] for i in range(len(variable))]
