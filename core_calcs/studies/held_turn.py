"""One joint turned as far as its range lets it go, and what ends the movement there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..skeleton.joint import Joint
from ..spatial.transforms import Array
from .checks import ANGLE_ROUNDING_RAD
from .stops import AxisUse, measure_joint_inside, use_axes

LEAST_STEP_RAD = float(np.radians(0.1))
"""The search goes on by so much where the boundary is nearer still: along it, or away from it."""

_FINE_RAD = 1e-6


@dataclass(frozen=True, eq=False)
class HeldTurn:
    """A joint after it was turned.

    angles_rad : (3,) flexion, lateral, axial
    held : whether it goes less far than it was asked to
    inside_rad : how far inside its bony range it stands, below zero outside; None: not known
    axes : how it uses its range, axis by axis
    """

    angles_rad: Array
    held: bool
    inside_rad: float | None
    axes: tuple[AxisUse, ...]


def turn_joint(joint: Joint, begun_rad: ArrayLike, wanted_rad: ArrayLike, hold: bool = True) -> HeldTurn:
    """A joint turned from some angles (3,) straight towards others, as far as its bony range lets it go.

    It is held where it would leave its range for the first time on the way. One that is outside to begin with may go on
    as long as it comes no farther outside. With hold off, or where the limits are not known, it goes all the way.
    """
    begun, wanted = np.asarray(begun_rad, float), np.asarray(wanted_rad, float)
    share = _find_share(joint, begun, wanted) if hold and joint.limits is not None else 1.0
    angles = wanted if share == 1.0 else begun + share * (wanted - begun)
    return HeldTurn(angles, share < 1.0, measure_joint_inside(joint, angles), use_axes(joint, angles))


def _find_share(joint: Joint, begun: Array, wanted: Array) -> float:
    """How much of the way it goes.

    A joint is as far inside as the nearest attitude of the boundary is away: by so much it can go on at one go.
    """
    far = float(np.linalg.norm(wanted - begun))
    if far == 0.0:
        return 1.0

    def measure(way: float) -> float:
        inside = measure_joint_inside(joint, begun + way / far * (wanted - begun))
        assert inside is not None  # limits are known
        return inside

    way, inside = 0.0, measure(0.0)
    farthest_in = inside
    while way < far:
        least = min(farthest_in, 0.0) - ANGLE_ROUNDING_RAD / 2
        after = min(way + max(inside, LEAST_STEP_RAD), far)
        reached = measure(after)
        if reached < least:
            return _halve(measure, least, way, after) / far
        way, inside, farthest_in = after, reached, max(farthest_in, reached)
    return 1.0


def _halve(measure: Callable[[float], float], least: float, low: float, high: float) -> float:
    """The last place between one that is allowed and one that is not."""
    while high - low > _FINE_RAD:
        middle = (low + high) / 2
        low, high = (middle, high) if measure(middle) >= least else (low, middle)
    return low
