"""Which ends of its movement a joint stands at or beyond in a pose, and what ends the movement there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..skeleton.envelope import measure_all_inside
from ..skeleton.joint import AXES, AxisLimit, Joint, Stop
from ..spatial.transforms import Array
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
    low, high = np.array([[(own.low.angle_rad, own.high.angle_rad) for own in joint.limits]]).transpose(2, 0, 1)
    return measure_joints_inside([joint], low, high, np.asarray(angles_rad, float)[None])[0]


def measure_joints_inside(
    joints: Sequence[Joint], low_rad: Array, high_rad: Array, angles_rad: Array
) -> list[float | None]:
    """The same of many joints at angles (n, 3) [rad] with limits (n, 3), NaN where these are not known."""
    envelopes = [joint.envelope for joint in joints]
    coupled = np.array([own is not None for own in envelopes], bool)
    asked = np.where(coupled[:, None], np.round(angles_rad, _STEADY) + 0.0, angles_rad)
    found = measure_all_inside(low_rad, high_rad, envelopes, asked)
    return [None if joint.limits is None else inside for joint, inside in zip(joints, found, strict=True)]
