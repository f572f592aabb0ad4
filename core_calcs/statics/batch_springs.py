"""What springs carry in many poses at once."""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array
from .reactions import solve_springs

ROUNDS = 8
"""Newton steps of all poses together; those that are not done then are solved one by one."""

THIN = 1e-9
"""Supports whose matrix has a lesser determinate are solved one by one: they cost digits."""


def solve_springs_batch(points_m: Array, stiffness: Array, weight_N: float, centres_m: Array) -> Array:
    """Forces (n, b) as `solve_springs` gives them, of points (2, n, b) under a weight at (2, b); NaN where none carry.

    stiffness : (n, b); 0: no contact
    """
    there = stiffness > 0
    touching, count = there.astype(float), there.sum(axis=0)
    offset = points_m - centres_m[:, None, :]
    reach = np.where(there, np.maximum(np.abs(offset[0]), np.abs(offset[1])), 0.0).max(axis=0, initial=0.0)
    x, y = offset / np.where(reach > 0, reach, 1.0)
    k = stiffness / np.maximum(stiffness.sum(axis=0), 1e-300)
    forces = np.full(stiffness.shape, np.nan)
    rest = np.flatnonzero(count >= 3)
    left = [np.flatnonzero((count > 0) & (count < 3))]
    for _ in range(ROUNDS):
        # Mostly all are in touch, and done after one round.
        every = len(rest) == len(reach)
        own = [a if every else a[:, rest] for a in (x, y, k, touching)]
        depth, thin = _press_springs(own[0], own[1], own[2] * own[3])
        presses = (depth > 0) & (own[2] > 0)
        done = (presses == own[3]).all(axis=0) & ~thin
        forces[:, rest[done]] = weight_N * (own[2] * np.where(presses, depth, 0.0))[:, done]
        touching[:, rest] = presses
        left.append(rest[thin])
        rest = rest[~done & ~thin]
        if not len(rest):
            break
    for i in np.concatenate([*left, rest]).tolist():
        on = there[:, i]
        found = solve_springs(points_m[:, on, i].T, stiffness[on, i], weight_N, centres_m[:, i])
        if found is not None:
            forces[:, i] = 0
            forces[on, i] = found
    return forces


def _press_springs(x: Array, y: Array, k: Array) -> tuple[Array, np.ndarray]:
    """How deep springs k (n, b) at x, y are pressed by 1 at the origin, none released; (b,) where too thin."""
    kx, ky = k * x, k * y
    a, b, c, d, e, f = (own.sum(axis=0) for own in (k, kx, ky, kx * x, kx * y, ky * y))
    # The symmetric matrix (a b c; b d e; c e f) by its cofactors, of which the first row answers the load (1, 0, 0).
    aa, bb, cc = d * f - e * e, c * e - b * f, b * e - c * d
    det = a * aa + b * bb + c * cc
    thin = det < THIN
    inverse = 1 / np.where(thin, 1.0, det)
    u, v, w = aa * inverse, bb * inverse, cc * inverse
    depth = u + v * x + w * y
    # One step of refinement: cofactors cost digits.
    r, s, t = ((own * depth).sum(axis=0) for own in (k, kx, ky))
    r = r - 1
    dd, ee, ff = a * f - c * c, b * c - a * e, a * d - b * b
    du, dv, dw = aa * r + bb * s + cc * t, bb * r + dd * s + ee * t, cc * r + ee * s + ff * t
    depth -= inverse * (du + dv * x + dw * y)
    return depth, thin
