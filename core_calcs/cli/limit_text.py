"""A joint's limits in words, as tables of the command line show them."""

from __future__ import annotations

import math

from ..handover.quantities import NOT_KNOWN, format_fixed
from ..handover.report_joints import REASON_LETTERS
from ..skeleton.joint import AxisLimit, Joint, Stop

AXES = ("flexion", "lateral", "axial")

_REASONS = ", ".join(f"{letter} {reason}" for reason, letter in REASON_LETTERS.items())
LEGEND = f"Degrees, and what ends the movement: {_REASONS}."


def describe_limits(joint: Joint) -> list[str]:
    """The three ranges, e.g. "−12.3 c to 20.1 o"; `held` about an axis that the joint does not turn about."""
    if joint.limits is None:
        return [NOT_KNOWN] * 3
    return [_describe_limit(limit) for limit in joint.limits]


def _describe_limit(limit: AxisLimit) -> str:
    if limit.low.reason == "held":
        return "held"
    return f"{_describe_stop(limit.low)} to {_describe_stop(limit.high)}"


def _describe_stop(stop: Stop) -> str:
    return f"{format_fixed(math.degrees(stop.angle_rad), 1)} {REASON_LETTERS[stop.reason]}"
