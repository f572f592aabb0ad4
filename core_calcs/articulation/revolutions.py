"""Surfaces of revolution fitted to a facet or a pair of condyles: hinges.

The distance from the axis is a polynomial of the place along it: a cylinder, a barrel, a grooved pulley; two condyles
have a profile each. Of the degrees the one with the least Schwarz criterion is taken: a free profile hides a tilt of
the axis, and a plain one that fits is the better witness.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array
from .fits import (
    BUMPS,
    LEAST_POINTS,
    Fit,
    find_arc,
    find_covariance,
    find_slope,
    find_uncertainty,
    root_mean_square,
    solve_robustly,
    split_cylindrical,
    thin_points,
)  # fmt: skip
from .slippage import Turning

_DEGREES = {1: (0, 2, 4), 2: (0, 2)}
"""Of the profiles tried, by pieces."""
_FARTHEST = 30
_BEYOND_SPAN = 0.1
_ALONG_NORMAL = 0.7
_SAME = float(np.cos(np.radians(20)))


def fit_revolution(
    pieces: Sequence[tuple[Array, Array]], starts: Sequence[Turning], degree: int | None = None
) -> Fit | None:
    """The best surface of revolution through one or two pieces (points, normals) that the starts lead to."""
    return min(fit_revolutions(pieces, starts, degree), key=lambda fit: fit.cost, default=None)


def fit_revolutions(
    pieces: Sequence[tuple[Array, Array]], starts: Sequence[Turning], degree: int | None = None
) -> list[Fit]:
    """Surfaces of revolution through one or two pieces (points, normals), one for each different axis found.

    A facet that is curved two ways is near to one about either of two axes.

    Parameters
    ----------
    starts : axes to begin from
    degree : of the profiles; None tries several
    """
    thinned = [thin_points(*piece) for piece in pieces]
    points, normals = (np.concatenate([piece[k] for piece in thinned]) for k in (0, 1))
    if min(len(p) for p, _ in thinned) < LEAST_POINTS:
        return []
    which = np.repeat(np.arange(len(thinned)), [len(p) for p, _ in thinned])
    middle = points.mean(axis=0)
    reach, looks = float(np.sqrt(((points - middle) ** 2).sum(axis=1).mean())), normals.mean(axis=0)
    degrees = _DEGREES[len(pieces)] if degree is None else (degree,)
    first = degrees[len(degrees) // 2]
    found: list[_Axis] = []
    for start in starts:
        axis = _solve_axis(points, which, start, first, reach)
        if axis is None or abs(axis.along @ looks) > _ALONG_NORMAL * np.linalg.norm(looks):
            continue  # about its own normal any dish is a surface of revolution, and no hinge
        if all(abs(axis.along @ other.along) < _SAME for other in found):
            found.append(axis)
    fits = []
    for axis in found:
        again = Turning(axis.along, axis.place)
        tries = [
            axis,
            *(_solve_axis(points, which, again, degree, reach) for degree in degrees if degree != first),
        ]
        best = min((one for one in tries if one is not None), key=lambda one: one.cost)
        fits.append(_describe(best, points, normals, which))
    return fits


@dataclass(frozen=True, eq=False)
class _Axis:
    """A solved axis through `place`; weights (n,) of the points, `slope` (n, 4) of their residuals; cost by Schwarz."""

    along: Array
    place: Array
    degree: int
    weights: Array
    cost: float
    slope: Array
    reach: float


def _solve_axis(points: Array, which: NDArray[np.int64], start: Turning, degree: int, reach: float) -> _Axis | None:
    middle = points.mean(axis=0)
    along = start.axis
    place = start.place + along * ((middle - start.place) @ along)
    if np.linalg.norm(place - middle) > _FARTHEST * reach:
        return None
    basis = np.linalg.svd(along[None, :])[2][1:]

    def axis_of(x: Array) -> tuple[Array, Array]:
        turned = along + basis.T @ x[:2]
        return turned / np.linalg.norm(turned), place + basis.T @ x[2:] * reach

    def off(x: Array, weights: Array) -> Array:
        return _off_profiles(points, which, *axis_of(x), degree, weights) / reach

    x, weights = solve_robustly(off, np.zeros(4))
    at, through = axis_of(x)
    if np.linalg.norm(through - middle) > _FARTHEST * reach:
        return None
    count = 4 + (degree + 1) * (int(which.max()) + 1)
    cost = BUMPS * np.log(max(float((off(x, weights) ** 2).mean()), 1e-24)) + count * np.log(BUMPS)
    slope = find_slope(lambda y: off(y, weights), x) * reach
    return _Axis(at, through, degree, weights, float(cost), slope, reach)


def _off_profiles(
    points: Array, which: NDArray[np.int64], along: Array, place: Array, degree: int, weights: Array
) -> Array:
    """Distances (n,) of points from the surfaces of revolution about an axis that fit their pieces best."""
    q = points - place
    height = q @ along
    across = q - height[:, None] * along
    away = np.sqrt(np.einsum("ij,ij->i", across, across))
    weights = np.broadcast_to(weights, height.shape)
    off = np.empty(len(points))
    ends = np.searchsorted(which, np.arange(int(which[-1]) + 2))
    for low, high in pairwise(ends.tolist()):
        mine = slice(low, high)  # the pieces' points lie one piece after the other
        fitted, rise = _fit_profile(height[mine], away[mine], degree, weights[mine]).find(height[mine])
        off[mine] = (away[mine] - fitted) / np.sqrt(1 + rise**2)
    return off


@dataclass(frozen=True, eq=False)
class _Profile:
    """Distance from the axis as a polynomial of (height - middle) / half."""

    terms: Array
    middle: float
    half: float

    def find(self, height: Array) -> tuple[Array, Array]:
        """Distances from the axis (n,) and their slopes at heights (n,) [m]."""
        t = (height - self.middle) / self.half
        away, rise = np.zeros_like(t), np.zeros_like(t)
        for term in self.terms[::-1]:
            rise = rise * t + away
            away = away * t + term
        return away, rise / self.half


def _fit_profile(height: Array, away: Array, degree: int, weights: Array) -> _Profile:
    """The weighted least squares polynomial."""
    low, high = float(height.min()), float(height.max())
    middle, half = (low + high) / 2, max((high - low) / 2, 1e-12)
    powers = np.ones((degree + 1, len(height)))
    np.multiply.accumulate(np.broadcast_to((height - middle) / half, (degree, len(height))), axis=0, out=powers[1:])
    weighed = powers * weights
    normal = weighed @ powers.T
    # Where all points lie level the higher terms are free: they are then zero.
    terms = np.linalg.solve(normal + 1e-10 * np.trace(normal) * np.eye(degree + 1), weighed @ away)
    return _Profile(np.asarray(terms, float), middle, half)


def _describe(axis: _Axis, points: Array, normals: Array, which: NDArray[np.int64]) -> Fit:
    along, place = axis.along, axis.place
    residuals = _off_profiles(points, which, along, place, axis.degree, axis.weights)
    covariance = find_covariance(axis.slope, residuals)
    height, away, out = split_cylindrical(points, along, place)
    pieces = [which == k for k in range(int(which.max()) + 1)]
    profiles = [_fit_profile(height[mine], away[mine], axis.degree, axis.weights[mine]) for mine in pieces]
    spans = [(float(height[mine].min()), float(height[mine].max())) for mine in pieces]
    centre = place + along * (min(low for low, _ in spans) + max(high for _, high in spans)) / 2
    convex = bool(np.median(np.einsum("ij,ij->i", out, normals)) > 0)

    def measure(p: Array) -> tuple[Array, Array]:
        return _measure(p, along, place, profiles, spans, convex)

    return Fit(
        "revolution", centre, along[None, :], centre[None, :], np.array([float(np.median(away))]),
        np.array([find_arc(out, along)]), root_mean_square(residuals), 4 + (axis.degree + 1) * len(pieces),
        axis.reach * find_uncertainty(covariance[2:, 2:]), find_uncertainty(covariance[:2, :2]),
        convex, measure, axis.degree,
    )  # fmt: skip


def _measure(
    points: Array,
    along: Array,
    place: Array,
    profiles: list[_Profile],
    spans: list[tuple[float, float]],
    convex: bool,
) -> tuple[Array, Array]:
    """Distances and outward normals; beyond a profile's span, widened a little, the distance is infinite."""
    height, away, out = split_cylindrical(points, along, place)
    off, rises = np.full(len(points), np.inf), np.zeros(len(points))
    for profile, (low, high) in zip(profiles, spans, strict=True):
        edge = _BEYOND_SPAN * (high - low)
        fitted, rise = profile.find(height)
        mine = (away - fitted) / np.sqrt(1 + rise**2)
        better = (height >= low - edge) & (height <= high + edge) & (np.abs(mine) < np.abs(off))
        off[better], rises[better] = mine[better], rise[better]
    normals = (out - rises[:, None] * along) / np.sqrt(1 + rises**2)[:, None]
    return off, normals * (1 if convex else -1)
