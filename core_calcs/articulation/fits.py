"""What a surface fitted to a facet says, and how far it may be believed.

Distances from the surface are weighed by a robust loss (soft L1), so that a spur or a bump does not decide. How well
the points pin a figure down follows from the fit's own covariance, the points counting as `BUMPS` independent readings:
a bone's unevenness is smooth, and a thousand samples of one bump tell no more than one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import leastsq

from ..spatial.transforms import Array

BUMPS = 20
"""A facet's unevenness counts as so many independent readings."""
MOST_POINTS = 500
LEAST_POINTS = 40
Shape = Literal["ball", "revolution", "saddle"]
Measure = Callable[[Array], tuple[Array, Array]]


@dataclass(frozen=True, eq=False)
class Fit:
    """A fitted surface.

    centre : (3,) [m]: the ball's; on the axis of revolution, level with the facet's middle; between a saddle's axes
    axes : (k, 3) unit directions it turns about: none of a ball, one of a surface of revolution, two of a saddle
    places : (k, 3) a point on each axis, level with the facet's middle [m]
    radii : (max(k, 1),) of the ball, or from the facet to each axis [m]
    arcs : the angles that the facet reaches round the centre or round each axis, from end to end [rad]
    residual : root mean square distance of the points from it [m]
    parameters : how many figures were fitted; degree : of a profile of revolution
    centre_uncertainty, axis_uncertainty : standard deviations in the least certain direction [m], [rad]
    convex : whether the facet is the outside of it, seen from the first axis
    measure : distances (n,) of points (n, 3) from it and its outward normals (n, 3) there
    """

    shape: Shape
    centre: Array
    axes: Array
    places: Array
    radii: Array
    arcs: Array
    residual: float
    parameters: int
    centre_uncertainty: float
    axis_uncertainty: float
    convex: bool
    measure: Measure
    degree: int = 0

    @property
    def radius(self) -> float:
        """About the first axis, or of the ball [m]."""
        return float(self.radii[0])

    @property
    def cost(self) -> float:
        """Schwarz's criterion, see `find_cost`."""
        return self.find_cost(0.0)

    def find_cost(self, even: float) -> float:
        """Schwarz's criterion of `BUMPS` readings (Ann. Statist. 6, 1978), none of them truer than `even` [m].

        Less is better.
        """
        square = max(self.residual**2 + even**2, 1e-24)
        return float(BUMPS * np.log(square) + self.parameters * np.log(BUMPS))


def thin_points(points: Array, normals: Array) -> tuple[Array, Array]:
    """An even share of the samples, so that no more than `MOST_POINTS` remain."""
    each = slice(None, None, max(1, -(-len(points) // MOST_POINTS)))
    return points[each], normals[each]


def find_covariance(slope: Array, residuals: Array) -> Array:
    """Of the parameters: residual variance over `BUMPS` readings, spread over the directions as the samples are."""
    information = slope.T @ slope / len(residuals)
    weights, directions = np.linalg.eigh(information)
    weights = np.maximum(weights, 1e-12 * max(float(weights[-1]), 1e-300))
    covariance: Array = (directions / weights) @ directions.T * float((residuals**2).mean()) / BUMPS
    return covariance


def find_uncertainty(covariance: Array) -> float:
    """Standard deviation in the least certain direction."""
    return float(np.sqrt(max(float(np.linalg.eigvalsh(covariance)[-1]), 0.0)))


def solve_robustly(off: Callable[[Array, Array], Array], x: Array, rounds: int = 3) -> tuple[Array, Array]:
    """Least soft L1 loss by reweighted least squares, each round by Levenberg and Marquardt's method.

    off : residuals (n,) at parameters (k,) of order one, given the points' weights (n,)

    Returns
    -------
    the parameters and the weights
    """
    weights = np.ones(len(off(x, np.ones(1))))
    for _ in range(rounds):
        left = off(x, weights)
        weights = 1 / np.sqrt(1 + (left / find_spread(left)) ** 2)
        x = _solve_weighed(off, x, weights)
    return x, weights


def _solve_weighed(off: Callable[[Array, Array], Array], x: Array, weights: Array) -> Array:
    roots = np.sqrt(weights)

    def weighed(y: Array) -> Array:
        return roots * off(y, weights)

    # As `least_squares` calls it, without the derivatives that are worked out there at the end and not asked for.
    solved = leastsq(weighed, x, full_output=True, ftol=1e-6, xtol=1e-6, gtol=1e-8, maxfev=200, diag=np.ones(len(x)))
    return np.asarray(solved[0], float)


def find_slope(off: Callable[[Array], Array], x: Array) -> Array:
    """Derivatives (n, k) of residuals (n,) by central differences, parameters of order one."""
    step = 1e-5
    return np.column_stack([(off(x + step * e) - off(x - step * e)) / (2 * step) for e in np.eye(len(x))])


def find_spread(residuals: Array) -> float:
    """1.5 times the robust standard deviation: what a sound point may lie off."""
    return max(1.5 * 1.4826 * float(np.median(np.abs(residuals - np.median(residuals)))), 1e-9)


def root_mean_square(residuals: Array) -> float:
    """Of residuals (n,)."""
    return float(np.sqrt((residuals**2).mean()))


def split_cylindrical(points: Array, along: Array, place: Array) -> tuple[Array, Array, Array]:
    """Height along an axis (n,), distance from it (n,) and the direction away from it (n, 3) of points (n, 3)."""
    q = points - place
    height = q @ along
    across = q - height[:, None] * along
    away = np.sqrt(np.einsum("ij,ij->i", across, across))
    return height, away, across / np.maximum(away, 1e-300)[:, None]


def find_arc(out: Array, along: Array) -> float:
    """How far directions (n, 3) reach round an axis [rad], their outermost hundredth left aside."""
    turned, _ = _turn_about(out, along)
    return float(np.percentile(turned, 99.5) - np.percentile(turned, 0.5))


def find_mean_direction(*sides: Array) -> Array:
    """Unit mean (3,) of directions (n, 3), each side counting alike however many it has."""
    mean = np.sum([out.mean(axis=0) for out in sides], axis=0)
    unit: Array = mean / max(float(np.linalg.norm(mean)), 1e-300)
    return unit


def _turn_about(out: Array, along: Array) -> tuple[Array, Array]:
    """Angles (n,) round an axis from the mean direction, and the directions (2, 3) that they are measured in."""
    mean = out.mean(axis=0)
    mean = mean - along * (along @ mean)
    mean /= max(float(np.linalg.norm(mean)), 1e-300)
    across = np.array([mean, np.cross(along, mean)])
    return np.arctan2(out @ across[1], out @ across[0]), across
