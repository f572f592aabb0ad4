"""Anchors and ballast: what is missing to hold the whole down, and what anchors that are there add."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..site.actions import Factors
from ..spatial.transforms import Array
from .stability import Axes

ON_AXIS = 1e-9
"""Arms below this share of the polygon's extent are rounding: the point lies on the axis."""


def measure_arms(axes: Axes, points_m: ArrayLike) -> Array:
    """Arms (..., k) of forces straight down at points (..., 3) about every axis: > 0 where they hold."""
    offset = np.asarray(points_m, float)[..., None, :] - axes.start_m
    arms = (offset * axes.inward).sum(axis=-1) * axes.upward[:, 2]
    extent = float(np.ptp(axes.start_m, axis=0).max())
    return np.where(np.abs(arms) > ON_AXIS * extent, arms, 0.0)


def find_anchor_tensions(axes: Axes, missing_Nm: ArrayLike, feet_m: ArrayLike) -> Array:
    """Smallest tensions (f,) [N] of an anchor in the middle of every foot (f, 3) that make up for missing moments (k,).

    Model: what an axis misses is held by the foot that is farthest from it alone, the body being rigid; a foot that
    serves several axes takes the greatest, since the body tips about one at a time. Infinite where no foot is away from
    an axis that misses something.
    """
    missing, arms = np.asarray(missing_Nm, float), measure_arms(axes, feet_m)
    farthest = arms.argmax(axis=0)
    reach = arms.max(axis=0)
    tension = np.zeros(len(missing))
    np.divide(missing, reach, out=tension, where=(missing > 0) & (reach > 0))
    tension[(missing > 0) & (reach <= 0)] = np.inf
    tensions = np.zeros(len(arms))
    np.maximum.at(tensions, farthest, tension)
    return tensions


def find_anchor_moments(axes: Axes, feet_m: ArrayLike, tensions_N: ArrayLike) -> Array:
    """Moments (k,) that anchors of given strengths (f,) in the middle of feet (f, 3) add about every axis.

    Tipping stretches them by their distance from the axis, all equally stiff, until the first has its strength.
    """
    strength, arms = np.asarray(tensions_N, float), np.maximum(measure_arms(axes, feet_m), 0)
    used = strength > 0
    if not used.any():
        return np.zeros(arms.shape[1])
    own, strength = arms[used], strength[used][:, None]
    stretch = np.full(own.shape, np.inf)
    np.divide(strength, own, out=stretch, where=own > 0)
    first = stretch.min(axis=0)
    moments: Array = np.where(np.isfinite(first), first, 0.0) * (own**2).sum(axis=0)
    return moments


def find_ballast(
    axes: Axes, missing_Nm: ArrayLike, points_m: ArrayLike, gravity: float, factors: Factors
) -> list[float | None]:
    """Smallest mass [kg] at each of points (p, 3) that makes up for missing moments (k,).

    Its weight counts as any other: what is sure of it where it holds, all and more about axes beyond which it lies.

    Returns
    -------
    None where no mass there does: it lies beyond an axis that misses something, or overloads one before it holds
    another.
    """
    missing, arms = np.asarray(missing_Nm, float), gravity * measure_arms(axes, points_m)
    holds = factors.permanent_for * np.maximum(arms, 0) - factors.permanent_against * np.maximum(-arms, 0)
    short, spare = missing > 0, holds < 0
    needed, borne = np.zeros(holds.shape), np.full(holds.shape, np.inf)
    np.divide(missing, holds, out=needed, where=short & (holds > 0))
    np.divide(missing, holds, out=borne, where=spare)
    least = needed.max(axis=1)
    possible = ~(short & (holds <= 0)).any(axis=1) & (least <= borne.min(axis=1))
    return [mass if does else None for mass, does in zip(least.tolist(), possible.tolist(), strict=True)]
