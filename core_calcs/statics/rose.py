"""How far it is to tipping in every direction of the compass."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array
from .stability import Axes, measure_holding

DIRECTIONS = 72
"""Every 5°."""


@dataclass(frozen=True, eq=False)
class Rose:
    """Margins by the direction in which the whole would go over.

    azimuth_rad : (n,) from x counter-clockwise
    distance_m : (n,) from the centre's ground point to the polygon's edge that way
    tip_angle_rad : (n,) tilt of ground and body that way, about the horizontal across it, at which the whole tips
    force_N : (n,) horizontal force that way, through the centre's vertical at height_m, that tips the whole
    """

    azimuth_rad: Array
    distance_m: Array
    tip_angle_rad: Array
    height_m: float
    force_N: Array


@cache
def spread_directions(count: int = DIRECTIONS) -> tuple[Array, Array]:
    """Azimuths (count,) all around from x on, and unit vectors (count, 3) along them, horizontal; not to be written."""
    azimuth: Array = 2 * np.pi / count * np.arange(count, dtype=np.float64)
    ways: Array = np.column_stack([np.cos(azimuth), np.sin(azimuth), np.zeros(count)])
    for own in (azimuth, ways):
        own.flags.writeable = False
    return azimuth, ways


def measure_rose(axes: Axes, centre_m: ArrayLike, weight_N: float, height_m: float) -> Rose | None:
    """Margins of a centre of mass (3,) [m] in every direction; None where it does not stand inside.

    height_m : world height of the horizontal force, above every axis
    """
    centre = np.asarray(centre_m, float)
    holding = measure_holding(axes, [0, 0, -weight_N], centre)
    if not holding.min() >= 0:
        return None
    azimuth, ways = spread_directions()
    distance = ((centre - axes.start_m) * axes.inward).sum(axis=1)
    outward = -ways @ axes.inward.T
    # Gravity's part along the slope, at the centre: what a whole weight that way overturns by.
    tilted = -measure_holding(axes, weight_N * ways, centre)
    force = measure_push(axes, centre, height_m, holding)
    return Rose(azimuth, _find_least(distance, outward), np.arctan(_find_least(holding, tilted)), height_m, force)


def measure_push(axes: Axes, centre_m: ArrayLike, height_m: float, holding_Nm: ArrayLike) -> Array:
    """(n,) horizontal force [N] in each of the rose's directions, through a centre's (3,) vertical at a height [m],
    that overcomes moments (k,) which hold about the axes."""
    x, y = np.asarray(centre_m, float)[:2].tolist()
    return _find_least(np.asarray(holding_Nm, float), -measure_holding(axes, spread_directions()[1], [x, y, height_m]))


def _find_least(holding: Array, against: Array) -> Array:
    """Least holding (k,) over against (n, k) of the axes that are worked against at all; infinite where none is."""
    ratio = np.full(against.shape, np.inf)
    # An axis along the direction is not reached: what is left of it is rounding.
    np.divide(holding, against, out=ratio, where=against > 1e-12 * np.abs(against).max(initial=0.0))
    least: Array = ratio.min(axis=1)
    return least
