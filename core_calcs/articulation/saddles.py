"""Saddles fitted to a facet: the inner side of a ring, whose two axes cross at right angles, apart from each other.

The partner's facet is the inner side of a ring about the same axes, with a tube of its own: where it is told the axes
are those that fit both. About its own axis a ring is the same all round, so that no surface says where along it the
second axis crosses: that is taken to be the middle of the facets.
"""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array
from .fits import (
    LEAST_POINTS,
    Fit,
    find_arc,
    find_covariance,
    find_mean_direction,
    find_slope,
    find_uncertainty,
    root_mean_square,
    solve_robustly,
    split_cylindrical,
    thin_points,
)  # fmt: skip
from .slippage import Turning

_FARTHEST = 30


def fit_saddle(
    points: Array, normals: Array, bends: tuple[Turning, Turning], partner: Array | None = None
) -> Fit | None:
    """The saddle through points (n, 3); None where the facet is not curved two ways, or too few points are there.

    Parameters
    ----------
    bends : the facet's two principal axes, see `slippage.find_bends`; either may be the ring's, and the better fit of
        the two is taken
    partner : (m, 3) of the facet that slides on it, which has a say in the axes as well
    """
    points, normals = thin_points(points, normals)
    if len(points) < LEAST_POINTS:
        return None
    sides = (points,) if partner is None else (points, thin_points(partner, partner)[0])
    tries = [_solve_ring(sides, normals, first, other) for first, other in (bends, bends[::-1])]
    return min((one for one in tries if one is not None), key=lambda one: one.residual, default=None)


def _solve_ring(sides: tuple[Array, ...], normals: Array, first: Turning, other: Turning) -> Fit | None:
    """The ring about the first axis, its tube about the other; each side (n, 3) has a tube of its own."""
    middle = sides[0].mean(axis=0)
    reach = float(np.sqrt(((sides[0] - middle) ** 2).sum(axis=1).mean()))
    along = first.axis
    place = first.place + along * ((middle - first.place) @ along)
    outwards = middle - place
    tube_start, inner = float(np.linalg.norm(other.place - middle)), float(np.linalg.norm(outwards))
    if (other.place - middle) @ outwards <= 0 or max(tube_start, inner) > _FARTHEST * reach:
        return None  # both axes on one side: no saddle
    basis = np.linalg.svd(along[None, :])[2][1:]
    points, side = np.concatenate(sides), np.repeat(np.arange(len(sides)), [len(one) for one in sides])

    def parts(x: Array) -> tuple[Array, Array, float, Array]:
        turned = along + basis.T @ x[:2]
        place_of = place + (basis.T @ x[2:4] + along * x[4]) * reach
        return turned / np.linalg.norm(turned), place_of, float(x[5]), x[6:]

    def off(x: Array, _weights: Array) -> Array:
        axis, through, ring, tubes = parts(x)
        height, away, _ = split_cylindrical(points, axis, through)
        return np.asarray(np.hypot(away / reach - ring, height / reach) - tubes[side])

    x = np.array([0, 0, 0, 0, 0, (inner + tube_start) / reach, *(tube_start / reach for _ in sides)])
    x, weights = solve_robustly(off, x)
    axis, through, ring, tubes = parts(x)
    residuals = off(x, weights) * reach
    covariance = find_covariance(find_slope(lambda y: off(y, weights), x) * reach, residuals)
    uncertainties = reach * find_uncertainty(covariance[2:, 2:]), find_uncertainty(covariance[:2, :2])
    return _describe(sides, normals, (axis, through, ring * reach, float(tubes[0]) * reach), residuals, uncertainties)


def _describe(
    sides: tuple[Array, ...],
    normals: Array,
    parts: tuple[Array, Array, float, float],
    residuals: Array,
    uncertainties: tuple[float, float],
) -> Fit | None:
    axis, through, ring, tube = parts
    points = sides[0]
    height, away, out = split_cylindrical(points, axis, through)
    if not 0 < tube < ring or float(np.mean(away < ring)) < 0.9:
        return None
    outwards = find_mean_direction(*(split_cylindrical(one, axis, through)[2] for one in sides))
    places = np.array([through, through + ring * outwards])
    convex = bool(np.median(np.einsum("ij,ij->i", out, normals)) > 0)
    bend = np.arctan2(height, ring - away)
    arcs = np.array([find_arc(out, axis), float(np.percentile(bend, 99.5) - np.percentile(bend, 0.5))])

    def measure(p: Array) -> tuple[Array, Array]:
        tall, far, level = split_cylindrical(p, axis, through)
        across = np.maximum(np.hypot(far - ring, tall), 1e-300)
        outward = (level * (far - ring)[:, None] + np.outer(tall, axis)) / across[:, None]
        return across - tube, outward * (-1 if convex else 1)

    return Fit(
        "saddle", places.mean(axis=0), np.array([axis, np.cross(axis, outwards)]), places,
        np.array([ring - tube, tube]), arcs, root_mean_square(residuals[: len(points)]), 7, *uncertainties,
        convex, measure,
    )  # fmt: skip
