"""Which ends of its movement a joint stands at or beyond in a pose, and what ends the movement there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..skeleton.envelope import measure_inside
from ..skeleton.joint import AXES, AxisLimit, Joint, Stop
from .assessment import JointUse, State
from .checks import ANGLE_ROUNDING_RAD, lies_outside

NEAR_RAD = float(np.radians(0.5))
"""A joint this close to the end of a movement stands at it."""


@dataclass(frozen=True, eq=False)
class AxisUse:
    """The movement about one axis in a pose.

    axis : flexion, lateral or axial
    angle_rad : the present angle
    limit : its two ends; None where they are not known
    reached : the end that it stands at or beyond; None where it stands at neither
    beyond_rad : how far beyond that end; zero at it
    state : `holds` inside and away from both ends, `close` at one, `fails` beyond one, `not known` without limits
    """

    axis: str
    angle_rad: float
    limit: AxisLimit | None
    reached: Stop | None = None
    beyond_rad: float = 0.0
    state: State = "holds"

    @property
    def share(self) -> float | None:
        """How much of the way from neutral to the end on its side it takes: -1 at the low end, 1 at the high one.

        None where that end is not known, or at neutral itself.
        """
        if self.limit is None:
            return None
        end = self.limit.high if self.angle_rad >= 0 else self.limit.low
        return self.angle_rad / abs(end.angle_rad) if end.angle_rad else None


def use_axes(joint: Joint, angles_rad: ArrayLike, near_rad: float = NEAR_RAD) -> tuple[AxisUse, ...]:
    """How a joint uses its range at these angles (3,), axis by axis: flexion, lateral, axial."""
    angles = np.asarray(angles_rad, float).tolist()
    limits = joint.limits or (None, None, None)
    return tuple(
        AxisUse(axis, angle, None, state="not known") if limit is None else _use_axis(axis, angle, limit, near_rad)
        for axis, angle, limit in zip(AXES, angles, limits, strict=True)
    )


def judge_range(use: JointUse, near_rad: float = NEAR_RAD) -> State:
    """How a joint uses its bony range, all axes together: in the words in which an axis alone is judged."""
    if use.inside_rad is None:
        return "not known"
    if lies_outside(use):
        return "fails"
    return "holds" if use.inside_rad > near_rad else "close"


def _use_axis(axis: str, angle: float, limit: AxisLimit, near_rad: float) -> AxisUse:
    low, high = angle - limit.low.angle_rad, limit.high.angle_rad - angle
    end, left = (limit.low, low) if low < high else (limit.high, high)
    if left < -ANGLE_ROUNDING_RAD:
        return AxisUse(axis, angle, limit, end, -left, "fails")
    held = limit.low.angle_rad == limit.high.angle_rad  # it never stands anywhere else: nothing to point at
    if held or left > near_rad:
        return AxisUse(axis, angle, limit)
    return AxisUse(axis, angle, limit, end, 0.0, "close")


_STEADY = 6
"""Digits of the angles [rad] by which an envelope is asked: bones of a single-precision rig that nobody moves waver by
1e-8, and what was found for them is found again."""


def measure_joint_inside(joint: Joint, angles_rad: ArrayLike) -> float | None:
    """How far inside its bony range a joint is at these angles (3,) [rad], below zero outside; None: not known."""
    if joint.limits is None:
        return None
    angles = np.asarray(angles_rad, float)
    asked = angles if joint.envelope is None else np.round(angles, _STEADY) + 0.0
    return measure_inside(joint.limits, joint.envelope, asked)
