"""The questions that the balance of a pose answers: whether it stands against what acts on it, and does not slide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..statics.supports import Supports
from .assessment import Check, FootLoad, State
from .balance_figures import SELF_WEIGHT, Balance

OVERTURNING, SLIDING = "Stands against what acts on it (EQU)", "Does not slide"
"""Names of the checks."""

CLOSE_FROM = 0.9
"""Used up to this share and beyond it is `close`: what is left may be less than the uncertainty of scans and setting
out (our own choice, no source; the partial factors are the reserve proper)."""

UNIT = "% of what holds"


def check_overturning(balance: Balance | None, unknown: Sequence[str], missing: str) -> Check:
    """Whether what holds outweighs what overturns, in the worst combination, about the worst edge.

    unknown : what is said to act, but not known with how much
    missing : what there would have to be for a support polygon, where there is no balance
    """
    if balance is None:
        return Check(OVERTURNING, "not known", None, 100.0, UNIT, "", missing)
    case = balance.cases[balance.worst]
    used, place = case.overturning, f"{case.name}, over {case.place}"
    anchored = [c.anchored for c in balance.cases if c.anchored is not None]
    if used > 1 and balance.anchored_feet:
        feet = ", ".join(balance.anchored_feet)
        if not anchored:
            what = f"the tension that the anchors of {feet} hold"
            return Check(OVERTURNING, "not known", _percent(used), 100.0, UNIT, place, what, _word_anchors(balance))
        used = max(anchored)
        place = f"{place}, held by anchors"
    state = judge_use(used)
    if unknown and state != "fails":
        return Check(OVERTURNING, "not known", _percent(used), 100.0, UNIT, place, "; ".join(unknown))
    return Check(OVERTURNING, state, _percent(used), 100.0, UNIT, place, meaning=_word_overturning(balance, state))


def check_sliding(balance: Balance | None, unknown: Sequence[str], missing: str) -> Check:
    """Whether friction holds what pushes along the ground; what anchors hold that way is not counted."""
    if balance is None:
        return Check(SLIDING, "not known", None, 100.0, UNIT, "", missing)
    case = balance.cases[balance.slipping]
    place = case.name
    if case.friction == 0:
        if unknown:
            return Check(SLIDING, "not known", None, 100.0, UNIT, "", "; ".join(unknown))
        return Check(SLIDING, "holds", 0.0, 100.0, UNIT, "", meaning="nothing pushes it along the ground")
    if case.sliding is None:
        what = "the coefficient of friction under the feet"
        return Check(SLIDING, "not known", None, 100.0, UNIT, place, what, _word_friction(case.friction))
    state = judge_use(case.sliding)
    if state == "fails" and balance.anchored_feet:
        what = f"the push along the ground that the anchors of {', '.join(balance.anchored_feet)} hold"
        return Check(SLIDING, "not known", _percent(case.sliding), 100.0, UNIT, place, what)
    if unknown and state != "fails":
        return Check(SLIDING, "not known", _percent(case.sliding), 100.0, UNIT, place, "; ".join(unknown))
    return Check(SLIDING, state, _percent(case.sliding), 100.0, UNIT, place, meaning=_word_friction(case.friction))


def hold_by_anchors(check: Check, feet: Sequence[FootLoad], supports: Supports) -> Check:
    """A check that fails by self-weight alone, where anchors pull: `not known` until their strength is given."""
    pulls = [(f, -foot.force_N) for f, foot in enumerate(feet) if foot.force_N is not None and foot.force_N < 0]
    if check.state != "fails" or not pulls:
        return check
    words = " and ".join(f"{feet[f].foot} with {pull:.0f} N" for f, pull in pulls)
    strengths = [supports.anchor_N[f] for f, _ in pulls]
    if np.isnan(strengths).any():
        what = f"what the anchors hold: they pull at {words}"
        return replace(check, state="not known", missing=what, meaning="")
    if all(strength >= pull for strength, (_, pull) in zip(strengths, pulls, strict=True)):
        return replace(check, state="holds", missing="", meaning=f"held down by anchors, which pull at {words}")
    return replace(check, missing="", meaning=f"its anchors are too weak: they would have to pull at {words}")


def judge_use(used: float) -> State:
    """The state of what is used up by so much: 1 is all of it."""
    return "fails" if used > 1 else "close" if used >= CLOSE_FROM else "holds"


def _percent(used: float) -> float | None:
    return 100 * used if np.isfinite(used) else None


def _word_friction(needed: float) -> str:
    if not np.isfinite(needed):
        return "nothing presses it on the ground"
    return f"it needs a coefficient of friction of {needed:.2g}"


def _word_overturning(balance: Balance, state: State) -> str:
    if state == "fails":
        return _word_anchors(balance)
    if [case.name for case in balance.cases] == [SELF_WEIGHT]:
        return "nothing else is said to act"
    return ""


def _word_anchors(balance: Balance) -> str:
    """What would hold it, in a sentence."""
    anchors = [(foot, tension) for foot, tension in balance.anchors if np.isfinite(tension)]
    masses = [(place, mass) for place, mass in balance.ballast if mass is not None]
    ways = []
    if anchors and len(anchors) == len(balance.anchors):
        told = " and ".join(f"{tension / 1000:.2f} kN at {foot}" for foot, tension in anchors)
        ways.append(f"anchors of {told}")
    if masses:
        place, mass = min(masses, key=lambda way: way[1])
        ways.append(f"{_word_mass(mass)} kg of ballast at {place}")
    return f"it would take {', or '.join(ways)}" if ways else "nothing at its feet would hold it"


def _word_mass(mass_kg: float) -> str:
    return f"{mass_kg:.0f}" if mass_kg >= 10 else f"{mass_kg:.2g}"
