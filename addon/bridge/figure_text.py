"""Figures of a pose in words, ready to be shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..core_calcs.studies.assessment import SEVERITY, Check, FootLoad, Summary, name_told
from ..core_calcs.studies.balance_checks import OVERTURNING, SLIDING
from ..core_calcs.studies.balance_checks import UNIT as USED
from ..core_calcs.studies.checks import CLEARANCE, count_outside
from ..core_calcs.studies.clearance import Hit
from ..core_calcs.studies.mounted import Moved
from ..core_calcs.studies.places_by_hand import Placed
from ..translations.phrases import capitalise, say, tell
from .units import SI, Units, word_length, word_mass, word_quantity

NOT_KNOWN = "not known"

SLOW = (CLEARANCE, OVERTURNING, SLIDING)
"""Names of the checks that need what is measured once the pose rests: what runs into what, what the wind sees."""


@dataclass(frozen=True)
class Finding:
    """A check in words: its state is one of holds, close, fails, not known."""

    name: str
    state: str
    text: str


@dataclass(frozen=True)
class FootFigure:
    """What a foot or another contact does: bears so much, is lifted, is let off."""

    name: str
    bears: bool
    text: str


@dataclass(frozen=True)
class HitFigure:
    """Two elements that run into each other: how deep, whether that fails or is close, where in the world [m]."""

    elements: tuple[str, str]
    depth: str
    state: str
    place_m: tuple[float, float, float]

    @property
    def title(self) -> str:
        """Both names."""
        return " – ".join(self.elements)


@dataclass(frozen=True)
class PoseFigures:
    """The figures of one pose in words.

    outside_short : joints outside their bony range as a bare number, with a question mark where limits are not known
    hits : what runs into what, the worst first; None where nobody has looked
    moved : of a pose as mounted, the elements that stood elsewhere, each with by how much; None of other poses
    """

    pose: str
    mass: str
    centre: str
    base_moment: str
    margin: str
    tip_angle: str
    outside: str
    outside_short: str
    findings: tuple[Finding, ...]
    feet: tuple[FootFigure, ...] = ()
    note: str = ""
    hits: tuple[HitFigure, ...] | None = None
    moved: tuple[tuple[str, str], ...] | None = None

    @property
    def state(self) -> str:
        """The worst state among the findings."""
        return max((finding.state for finding in self.findings), key=SEVERITY.index, default=NOT_KNOWN)


@dataclass(frozen=True)
class PlacedFigure:
    """How far from its scan an element stands that the user has placed, and why."""

    element: str
    text: str
    reason: str


def word_placed(placed: Placed, units: Units = SI) -> PlacedFigure:
    """An element placed by hand in words: how far its centre was moved, by how much it was turned."""
    far = word_length(float(np.linalg.norm(placed.shift_m)), units)
    return PlacedFigure(placed.element, f"{far}, {math.degrees(placed.angle_rad):.1f}°", placed.reason)


def word_moved(moved: Moved, units: Units = SI) -> tuple[str, str]:
    """An element that stood elsewhere, and by how much: how far its centre, and the turn."""
    far = float(np.linalg.norm(moved.shift_m))
    return moved.element, f"{word_length(far, units)}, {math.degrees(moved.angle_rad):.1f}°"


def word_figures(found: Summary, units: Units = SI) -> PoseFigures:
    """The summary of a pose in words."""
    unknown = sum(use.beyond_rad is None for use in found.uses)
    outside = count_outside(found.uses)
    limits = say("{count} of {all}", count=outside, all=len(found.uses) - unknown)
    if unknown:
        limits = say(
            "{count} of {all}, {unknown} not known", count=outside, all=len(found.uses) - unknown, unknown=unknown
        )
    return PoseFigures(
        pose=found.pose,
        mass=word_mass(found.mass_kg, found.mass_uncertainty_kg, units),
        centre=word_place(found.centre_m, units),
        base_moment=word_moment(found.base_moment_Nm[:2], units),
        margin=word_length(found.distance_margin_m, units),
        tip_angle=tell(NOT_KNOWN) if found.tip_angle_rad is None else f"{math.degrees(found.tip_angle_rad):.1f}°",
        outside=limits,
        outside_short=f"{outside} + ?" if unknown else str(outside),
        findings=_word_findings(found.checks, units),
        feet=tuple(FootFigure(foot.foot, foot.bears, _word_foot(foot, units)) for foot in found.feet),
        hits=None if found.clearance is None else tuple(_word_hit(hit, units) for hit in found.clearance.hits),
    )


def _word_hit(hit: Hit, units: Units) -> HitFigure:
    x, y, z = map(float, hit.place_m)
    return HitFigure(hit.elements, word_quantity(hit.depth_m, "m", units), hit.state, (x, y, z))


def _word_foot(foot: FootLoad, units: Units) -> str:
    if not foot.bears:
        return say("bears nothing")
    if not len(foot.points_m):
        return say("lifted")
    return tell(NOT_KNOWN) if foot.force_N is None else word_quantity(foot.force_N, "N", units)


def word_failure(pose: str, problem: str) -> PoseFigures:
    """A pose whose figures could not be computed: nothing of it is known, and why."""
    return PoseFigures(pose, *(NOT_KNOWN,) * 7, findings=(Finding("Figures", NOT_KNOWN, problem),))


def _word_findings(checks: Sequence[Check], units: Units) -> tuple[Finding, ...]:
    """Every check; what several lack is told of the first of them."""
    return tuple(
        Finding(check.name, check.state, say("As for: {check}", check=tell(told)) if told else word_check(check, units))
        for check, told in zip(checks, name_told(checks), strict=True)
    )


def word_check(check: Check, units: Units = SI) -> str:
    """What a check has found: in a plain sentence where it has one, else its figure; then the worst place."""
    if check.state == NOT_KNOWN:
        return say("Missing: {what}", what=tell(check.missing))
    figure = "" if check.figure is None else word_quantity(check.figure, tell(check.unit), units)
    if check.unit == USED:
        # How much is used up tells by itself; the sentence says what would help, or what acts.
        told = ", ".join(part for part in (figure, tell(check.place)) if part)
        return "; ".join(part for part in (told, tell(check.meaning)) if part)
    text = ", ".join(part for part in (tell(check.meaning) or figure, tell(check.place)) if part)
    return capitalise(text) if check.meaning else text


def _word_vector(values: Sequence[float], decimals: int) -> str:
    return ", ".join(f"{round(float(value), decimals) + 0.0:.{decimals}f}" for value in values)


def word_place(place_m: Sequence[float], units: Units) -> str:
    """Co-ordinates [m] in words."""
    unit = units.place
    return f"{_word_vector([value / unit.size for value in place_m], unit.decimals)} {unit.name}"


def word_moment(moment_Nm: Sequence[float], units: Units) -> str:
    """Components [N m] in words: in the great unit from a thousand on; three figures of the greater one."""
    greatest = max(abs(float(value)) for value in moment_Nm)
    unit = units.great_moment if greatest >= 1000 * units.moment.size else units.moment
    decimals = min(3, max(0, 2 - math.floor(math.log10(max(greatest / unit.size, 1e-3)))))
    return f"{_word_vector([value / unit.size for value in moment_Nm], decimals)} {unit.name}"
