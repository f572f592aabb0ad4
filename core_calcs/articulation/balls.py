"""Balls fitted to a facet."""

from __future__ import annotations

import numpy as np
from scipy.optimize import least_squares

from ..spatial.transforms import Array
from .fits import LEAST_POINTS, Fit, find_covariance, find_spread, find_uncertainty, root_mean_square, thin_points

_FARTHEST = 30
"""A centre farther off than so many times the facet's reach is a plane's."""


def fit_ball(points: Array, normals: Array) -> Fit | None:
    """The sphere through points (n, 3) with outward normals (n, 3); None for a plane or too few points."""
    points, normals = thin_points(points, normals)
    start = _start_ball(points)
    if start is None:
        return None

    def off(x: Array) -> Array:
        return np.asarray(np.linalg.norm(points - x[:3], axis=1) - x[3])

    def slope(x: Array) -> Array:
        out = (points - x[:3]) / np.maximum(np.linalg.norm(points - x[:3], axis=1, keepdims=True), 1e-300)
        return np.column_stack([-out, -np.ones(len(points))])

    x = start
    for _ in range(2):
        x = least_squares(off, x, jac=slope, loss="soft_l1", f_scale=find_spread(off(x)), x_scale=float(start[3])).x
    centre, radius = x[:3], float(abs(x[3]))
    residuals = off(x)
    out = points - centre
    convex = bool(np.median(np.einsum("ij,ij->i", out, normals)) > 0)

    def measure(p: Array) -> tuple[Array, Array]:
        away = np.linalg.norm(p - centre, axis=1)
        return away - radius, (p - centre) / np.maximum(away, 1e-300)[:, None] * (1 if convex else -1)

    uncertainty = find_uncertainty(find_covariance(slope(x), residuals)[:3, :3])
    return Fit(
        "ball", centre, np.empty((0, 3)), np.empty((0, 3)), np.array([radius]), np.array([_arc_of_cap(out)]),
        root_mean_square(residuals), 4, uncertainty, 0.0, convex, measure,
    )  # fmt: skip


def _start_ball(points: Array) -> Array | None:
    """Algebraic sphere: |p|² = 2 c·p + (r² - |c|²) is linear in c and the bracket."""
    if len(points) < LEAST_POINTS:
        return None
    middle = points.mean(axis=0)
    q = points - middle
    scale = float(np.linalg.norm(q, axis=1).max())
    if not scale > 0:
        return None
    A = np.column_stack([2 * q / scale, np.ones(len(q))])
    solution, _, rank, _ = np.linalg.lstsq(A, (q**2).sum(axis=1) / scale**2, rcond=1e-9)
    radius = float(np.sqrt(max(solution[3] + solution[:3] @ solution[:3], 0.0)))
    if rank < 4 or not 0 < radius < _FARTHEST:
        return None
    return np.append(middle + solution[:3] * scale, radius * scale)


def _arc_of_cap(out: Array) -> float:
    """From end to end of the cap that holds all but the outermost hundredth of the directions (n, 3)."""
    unit = out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-300)
    middle = unit.mean(axis=0)
    middle /= max(float(np.linalg.norm(middle)), 1e-300)
    return 2 * float(np.percentile(np.arccos(np.clip(unit @ middle, -1, 1)), 99))
