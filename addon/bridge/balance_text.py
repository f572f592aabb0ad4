"""What the feet take, how neck, trunk and tail pull, over which edge it would tip: in words, ready to be shown."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from ..core_calcs.site.actions import Factors
from ..core_calcs.studies.assessment import SEVERITY, Assessment, Check, FootLoad
from ..core_calcs.studies.balance_checks import judge_use
from ..core_calcs.studies.balance_figures import Balance, BalanceCase
from ..core_calcs.studies.beams import BeamKind
from ..core_calcs.studies.chains import ChainMoment, find_greatest_moments
from ..translations.phrases import say, tell
from .figure_text import word_moment, word_place
from .units import NOT_KNOWN, SI, Units, word_length, word_quantity

CHAIN_NAMES = {"neck": "neck", "trunk": "trunk", "tail": "tail", "limb": "limbs"}

STANDS = "Stands"
"""Name of the check that the margin belongs to."""


@dataclass(frozen=True)
class FootRow:
    """What a foot or another contact takes: by equal springs, and from least to greatest on a rigid base."""

    name: str
    force: str
    range: str
    state: str


@dataclass(frozen=True)
class ChainRow:
    """The greatest moment of neck, trunk, tail or limbs, and the joint that has it."""

    chain: str
    moment: str
    joint: str


@dataclass(frozen=True)
class CaseRow:
    """How much of what holds is used up with one action leading, design values: against tipping, against sliding."""

    name: str
    tipping: str
    sliding: str
    state: str


@dataclass(frozen=True)
class Governing:
    """What governs, with its design values (EN 1990, set EQU) and the factors in them.

    tipping : name of the combination that tips most; edge : over which
    overturns, holds : moments about that edge
    sliding : name of the combination that slides most, empty where nothing pushes; pushes, presses : along the ground
        and on it
    against, holding : factors on the self-weight that overturns, and on that which holds and presses
    leading, others : factors on the leading action and on those beside it; empty where nothing acts besides the weight
    resistance : what friction and anchors are divided by; empty where that is 1
    """

    tipping: str
    edge: str
    overturns: str
    holds: str
    sliding: str
    pushes: str
    presses: str
    against: str
    holding: str
    leading: str
    others: str
    resistance: str


@dataclass(frozen=True)
class BalanceFigures:
    """Base, feet, chains of one pose, and the combinations it is to stand; governing : None where it stands on none.

    base_force : downwards on the ground; datum : where base moments are taken about
    edge : over which it is nearest to tipping; towards : in which direction that is
    margin_uncertainty : half-width of the margin that the masses' uncertainties leave
    """

    state: str
    base_force: str
    base_moment: str
    datum: str
    edge: str
    towards: str
    margin_uncertainty: str
    feet: tuple[FootRow, ...]
    chains: tuple[ChainRow, ...]
    cases: tuple[CaseRow, ...]
    governing: Governing | None


def word_balance(
    found: Assessment, chains: Mapping[str, BeamKind], factors: Factors, units: Units = SI
) -> BalanceFigures:
    """The balance of a pose in words. chains : of the skeleton's joints; factors : the site's"""
    stands = find_standing(found)
    uncertainty = found.uncertainties.distance_margin_m
    return BalanceFigures(
        state=stands.state,
        base_force=word_quantity(-float(found.base_force_N[2]), "N", units),
        base_moment=word_moment(found.base_moment_Nm[:2], units),
        datum=word_place(found.datum_m[:2], units),
        edge=tell(stands.place) if found.edges else tell(NOT_KNOWN),
        towards=word_direction(found),
        margin_uncertainty=tell(NOT_KNOWN) if uncertainty is None else f"± {word_length(uncertainty, units)}",
        feet=tuple(_word_foot(foot, units) for foot in found.feet),
        chains=tuple(_word_chain(own, units) for own in find_greatest_moments(chains, found.joints)),
        cases=() if found.balance is None else tuple(_word_case(case) for case in found.balance.cases),
        governing=None if found.balance is None else _word_governing(found.balance, factors, units),
    )


def find_standing(found: Assessment) -> Check:
    """The check that the margin belongs to."""
    return next(check for check in found.checks if check.name == STANDS)


def find_governing(found: Assessment) -> int | None:
    """The edge of the support polygon that is nearest, as an index; None without a polygon."""
    distances = [edge.distance_m for edge in found.edges]
    return distances.index(min(distances)) if distances else None


def word_direction(found: Assessment) -> str:
    """Which way the whole would go over the governing edge: from x counter-clockwise, seen from above."""
    if (worst := find_governing(found)) is None:
        return tell(NOT_KNOWN)
    along = found.edges[worst].end_m - found.edges[worst].start_m
    degrees = round(math.degrees(math.atan2(-along[0], along[1]))) % 360
    return say("{degrees}° from x", degrees=degrees)


def _word_foot(foot: FootLoad, units: Units) -> FootRow:
    if not foot.bears:
        return FootRow(foot.foot, say("bears nothing"), "", "holds")
    if not len(foot.points_m):
        return FootRow(foot.foot, say("lifted"), "", "holds")
    if foot.force_N is None:
        return FootRow(foot.foot, tell(NOT_KNOWN), tell(NOT_KNOWN), NOT_KNOWN)
    known = foot.range_N is not None
    span = word_span(*(word_quantity(force, "N", units) for force in foot.range_N)) if known else tell(NOT_KNOWN)
    return FootRow(foot.foot, word_quantity(foot.force_N, "N", units), span, "holds" if foot.force_N > 0 else "fails")


def word_span(least: str, greatest: str) -> str:
    """From one figure to another, the unit once where it is the same."""
    if least == greatest:
        return least
    figure, unit = least.rsplit(" ", 1)
    low = figure if unit == greatest.rsplit(" ", 1)[1] else least
    return say("{low} to {high}", low=low, high=greatest)


def _word_chain(own: ChainMoment, units: Units) -> ChainRow:
    if own.moment_Nm is None:
        return ChainRow(tell(CHAIN_NAMES[own.chain]), NOT_KNOWN, "")
    joint = own.child
    if own.unknown:
        joint = say("{joint}; {count} not known", joint=joint, count=own.unknown)
    return ChainRow(tell(CHAIN_NAMES[own.chain]), word_quantity(own.moment_Nm, "N·m", units), joint)


def _word_case(case: BalanceCase) -> CaseRow:
    used = case.overturning if case.anchored is None else min(case.overturning, case.anchored)
    states = [judge_use(used)]
    if case.sliding is not None:
        states.append(judge_use(case.sliding))
        sliding = _word_share(case.sliding)
    elif case.friction == 0:
        sliding = "0 %"
    else:
        states.append(NOT_KNOWN)
        needed = say("needs a friction of {friction}", friction=f"{case.friction:.2g}")
        sliding = needed if math.isfinite(case.friction) else say("not held")
    return CaseRow(tell(case.name), _word_share(used), sliding, max(states, key=SEVERITY.index))


def _word_governing(balance: Balance, factors: Factors, units: Units) -> Governing:
    tips, slides = balance.cases[balance.worst], balance.cases[balance.slipping]
    pushed, acted = math.hypot(*slides.push_N), len(balance.cases) > 1
    return Governing(
        tipping=tell(tips.name),
        edge=tell(tips.place),
        overturns=word_quantity(tips.overturning_Nm, "N·m", units),
        holds=word_quantity(tips.holding_Nm, "N·m", units),
        sliding=tell(slides.name) if pushed else "",
        pushes=word_quantity(pushed, "N", units),
        presses=word_quantity(slides.press_N, "N", units),
        against=f"{factors.permanent_against:g}",
        holding=f"{factors.permanent_for:g}",
        leading=f"{factors.variable_against:g}" if acted else "",
        others=f"{factors.variable_against * factors.accompanying:.3g}" if acted else "",
        resistance="" if factors.resistance == 1 else f"{factors.resistance:g}",
    )


def _word_share(used: float) -> str:
    return f"{100 * used:.0f} %" if math.isfinite(used) else say("not held")
