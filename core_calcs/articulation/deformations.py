"""Whether what was taken for a ball or a roller has been deformed: an ellipsoid, or a roller stretched and sheared.

The ground shears and flattens buried bones. A sheared ball is an ellipsoid, and a sphere fitted to the part of it that
is a facet has its centre beside the ellipsoid's; likewise an axis. Which of the two tells is asked by Schwarz's
criterion, as between families (`fits`). What has been deformed and moves the centre turns about nothing for certain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from ..spatial.transforms import Array
from .candidate_fits import CLEARLY
from .fits import BUMPS, Fit, find_spread, root_mean_square, solve_robustly, split_cylindrical, thin_points

_BESIDE = 0.02
"""Of the radius: a deformation that moves centre or axis by less is of no account."""
_ASKEW_RAD = float(np.radians(1))
"""Nor is one that turns an axis by less."""
_STRAIN = 0.2
"""The ground has changed lengths by no more than about this share: what asks for more is of another shape."""
_EVEN = 0.006
"""Of the radius: unevenness below this speaks for nothing."""


@dataclass(frozen=True, eq=False)
class Ellipsoid:
    """centre : (3,) [m]; half_axes : (3,) longest first [m]; residual : root mean square distance from it [m]."""

    centre: Array
    half_axes: Array
    residual: float


def fit_ellipsoid(points: Array, centre: Array, radius: float) -> Ellipsoid:
    """The ellipsoid through points (n, 3), beginning at a sphere; soft L1 loss of distances to first order."""
    q = (thin_points(points, points)[0] - centre) / radius

    def stretch(x: Array) -> Array:
        xx, yy, xy, xz, yz = x[4:]
        return np.asarray((np.eye(3) + np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, -xx - yy]])) / x[3], float)

    def off(x: Array) -> Array:
        M = stretch(x)
        unit = (q - x[:3]) @ M
        length = np.linalg.norm(unit, axis=1)
        return np.asarray((length - 1) * length / np.maximum(np.linalg.norm(unit @ M, axis=1), 1e-300))

    x = np.array([0, 0, 0, 1.0, 0, 0, 0, 0, 0])
    for _ in range(2):
        x = least_squares(off, x, loss="soft_l1", f_scale=find_spread(off(x)), max_nfev=100).x
    half_axes = radius / np.abs(np.linalg.eigvalsh(stretch(x)))
    return Ellipsoid(centre + x[:3] * radius, np.sort(half_axes)[::-1], root_mean_square(off(x)) * radius)


@dataclass(frozen=True, eq=False)
class DeformedRoller:
    """What a surface of revolution becomes when its bone is stretched and sheared as a whole.

    place : (3,) on what its axis has become [m]; along : (3,) unit direction of that
    strain : greatest change of a length, as a share of it
    residual : root mean square distance from it [m]
    """

    place: Array
    along: Array
    strain: float
    residual: float


def fit_deformed_roller(pieces: Sequence[Array], fit: Fit) -> DeformedRoller:
    """The deformed roller through one or two pieces (n, 3), beginning at a surface of revolution.

    The points are stretched and sheared back by a symmetric matrix (four figures: what lengthens the roller along its
    axis its profile hides), and fitted by a surface of revolution there.
    """
    thinned = [thin_points(piece, piece)[0] for piece in pieces]
    which = np.repeat(np.arange(len(thinned)), [len(piece) for piece in thinned])
    axis, radius = fit.axes[0], fit.radius
    across = np.linalg.svd(axis[None, :])[2][1:]
    basis = np.vstack([across, axis])
    q = (np.concatenate(thinned) - fit.places[0]) @ basis.T / radius

    def parts(x: Array) -> tuple[Array, Array, Array]:
        """Back to where it was round; there a direction along the axis and a point on it."""
        uu, uv, ua, va = _STRAIN * np.tanh(x[4:] / _STRAIN)
        along = np.array([x[0], x[1], 1.0])
        back = np.eye(3) + np.array([[uu, uv, ua], [uv, -uu, va], [ua, va, 0]])
        return back, along / np.linalg.norm(along), np.array([x[2], x[3], 0.0])

    def off(x: Array, weights: Array) -> Array:
        back, along, through = parts(x)
        height, away, out = split_cylindrical(q @ back, along, through)
        weights, found = np.broadcast_to(weights, height.shape), np.empty(len(q))
        for k in range(len(thinned)):
            mine = which == k
            steps, rise = _off_profile(height[mine], away[mine], fit.degree, weights[mine])
            # How far the surface is left by a step depends on how the deformation changes lengths across it.
            found[mine] = steps / np.linalg.norm((out[mine] - np.outer(rise, along)) @ back, axis=1)
        return found

    x, weights = solve_robustly(off, np.zeros(8))
    back, along, through = parts(x)
    there = np.linalg.inv(back)
    drawn = along @ there @ basis
    return DeformedRoller(
        fit.places[0] + radius * through @ there @ basis, drawn / np.linalg.norm(drawn),
        float(np.abs(np.linalg.eigvalsh(there) - 1).max()), root_mean_square(off(x, weights)) * radius,
    )  # fmt: skip


def _off_profile(height: Array, away: Array, degree: int, weights: Array) -> tuple[Array, Array]:
    """How much too far away points are (n,) for the profile that fits best, a polynomial of the height; its slopes."""
    t = height - height.mean()
    powers, roots = np.vander(t, degree + 1, increasing=True), np.sqrt(weights)
    terms = np.linalg.lstsq(powers * roots[:, None], away * roots, rcond=None)[0]
    return away - powers @ terms, powers[:, :-1] @ (terms[1:] * np.arange(1, degree + 1))


def check_roundness(fit: Fit, pieces: Sequence[Array]) -> tuple[str, ...]:
    """What speaks against a ball or a surface of revolution not having been deformed, in words; of a saddle nothing.

    pieces : (n, 3) of the facet that it was fitted to
    """
    if fit.shape == "ball":
        egg = find_egg(np.concatenate(pieces), fit)
        return () if egg is None else (tell_egg(egg, fit),)
    if fit.shape == "revolution":
        roller = fit_deformed_roller(pieces, fit)
        beside = float(split_cylindrical(fit.places, roller.along, roller.place)[1][0])
        turned = float(np.arccos(min(1.0, abs(float(roller.along @ fit.axes[0])))))
        moved = beside > _BESIDE * fit.radius or turned > _ASKEW_RAD
        if moved and _is_deformed(fit, roller.residual, 4, len(pieces)):
            return (
                f"it is round only if its bone has been deformed by {roller.strain:.0%}, and then about an axis "
                f"{beside / fit.radius:.0%} of the radius beside it and {np.degrees(turned):.1f}° askew",
            )
    return ()


def find_egg(points: Array, ball: Fit) -> Ellipsoid | None:
    """The ellipsoid that a ball through points (n, 3) has become; None where it is a ball still, or as good as one."""
    egg = fit_ellipsoid(points, ball.centre, ball.radius)
    beside = float(np.linalg.norm(egg.centre - ball.centre))
    return egg if _is_deformed(ball, egg.residual, 5) and beside > _BESIDE * ball.radius else None


def tell_egg(egg: Ellipsoid, ball: Fit) -> str:
    """In words what a ball has become."""
    beside = float(np.linalg.norm(egg.centre - ball.centre)) / ball.radius
    ratios = " : ".join(f"{half:.2f}" for half in egg.half_axes / np.cbrt(egg.half_axes.prod()))
    return (
        f"it is an ellipsoid of half-axes {ratios}, whose middle lies {beside:.0%} of the radius beside the ball's: "
        "the bone may have been deformed"
    )


def _is_deformed(fit: Fit, residual: float, more: int, pieces: int = 1) -> bool:
    """Whether a deformed surface, so far off [m] and with so many more parameters, clearly beats a round one.

    pieces : of a facet, each of whose unevenness is its own
    """
    even, readings = _EVEN * fit.radius, BUMPS * pieces
    gain = readings * np.log((fit.residual**2 + even**2) / (residual**2 + even**2))
    return bool(gain - more * np.log(readings) > CLEARLY)
