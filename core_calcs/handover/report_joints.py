"""What the report says of the joints that move: angles in their limits, state, moments."""

from __future__ import annotations

import math

import numpy as np

from ..skeleton.joint import AXES, Joint
from ..skeleton.tree import Skeleton
from ..studies.assessment import Assessment, JointLoad, JointUse, State
from ..studies.checks import ANGLE_ROUNDING_RAD, lies_outside
from ..studies.column import list_column_joints
from .moment_figure import resultant_bending
from .quantities import NOT_KNOWN, choose_unit, format_column, format_fixed
from .report_lines import Line


def list_moving_joints(skeleton: Skeleton, assessment: Assessment) -> tuple[tuple[Line, ...], str]:
    """Angles in their limits, state, bending and torsion of every joint that moves, and the moments' unit.

    Those of the column come first, from the head to the tip of the tail.
    """
    loads = {load.child: load for load in assessment.joints}
    uses = {use.child: use for use in assessment.uses}
    moving = list_moving(skeleton)
    moments = [m for joint in moving if joint.child in loads for m in _moments(loads[joint.child])]
    unit, scale = choose_unit([m for m in moments if m is not None], "N·m")
    pairs = [_moments(loads[joint.child]) if joint.child in loads else (None, None) for joint in moving]
    texts = format_column([None if m is None else m * scale for pair in pairs for m in pair])
    lines = []
    for i, joint in enumerate(moving):
        state, text = _state_in_limits(joint, uses.get(joint.child))
        angles = (_angle_in_limits(joint, uses.get(joint.child), axis) for axis in range(3))
        lines.append(Line((joint.child, *angles, *texts[2 * i : 2 * i + 2]), state, text))
    return tuple(lines), unit


def list_moving(skeleton: Skeleton) -> list[Joint]:
    """Every joint that moves: those of the column first, from the head to the tip of the tail."""
    column = list_column_joints(skeleton)
    place = {name: i for i, name in enumerate((*column.forward, *column.backward))}
    return sorted((joint for joint in skeleton.joints if joint.moves), key=lambda own: place.get(own.child, len(place)))


def _moments(load: JointLoad) -> tuple[float | None, float | None]:
    bending = resultant_bending(load)
    return (None if math.isnan(bending) else bending), load.torsion_Nm


def _angle_in_limits(joint: Joint, use: JointUse | None, axis: int) -> str:
    """E.g. "3.0 in −12.1 c to 9.8 o": the angle, and where each way ends and why, by its letter."""
    angle = format_fixed(math.degrees(use.angles_rad[axis]), 1) if use else NOT_KNOWN
    if joint.limits is None:
        return f"{angle} in {NOT_KNOWN}"
    low, high = joint.limits[axis].low, joint.limits[axis].high
    if low.reason == "held":
        return f"{angle}, held"
    ends = [f"{format_fixed(math.degrees(end.angle_rad), 1)} {REASON_LETTERS[end.reason]}" for end in (low, high)]
    return f"{angle} in {ends[0]} to {ends[1]}"


REASON_LETTERS = {
    "bone contact": "c", "facet overlap": "o", "gap": "g", "search range": "s", "held": "-", "by hand": "h",
}  # fmt: skip


def _state_in_limits(joint: Joint, use: JointUse | None) -> tuple[State, str]:
    if use is None or use.beyond_rad is None:
        return "not known", NOT_KNOWN
    beyond = np.asarray(use.beyond_rad, float)
    worst = int(np.argmax(beyond))
    if beyond[worst] > ANGLE_ROUNDING_RAD:
        return "fails", f"{AXES[worst]} {format_fixed(math.degrees(beyond[worst]), 1)}° beyond"
    if lies_outside(use):
        return "fails", f"together {format_fixed(-math.degrees(use.inside_rad or 0.0), 1)}° outside"
    return "holds", "inside"
