"""What springs carry in many poses at once."""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array
from .reactions import solve_springs

ROUNDS = 8
"""Newton steps of all poses together; those that are not done then are solved one by one."""


def solve_springs_batch(points_m: Array, stiffness: Array, weight_N: float, centres_m: Array) -> Array:
    """Forces (b, n) as `solve_springs` gives them, of points (b, n, 2) under a weight at (b, 2); NaN where none carry.

    stiffness : (b, n); 0: no contact
    """
    offset = points_m - centres_m[:, None, :]
    there = stiffness > 0
    reach = np.where(there[:, :, None], np.abs(offset), 0.0).max(axis=(1, 2))
    scaled = offset / np.where(reach > 0, reach, 1.0)[:, None, None]
    A = np.concatenate([np.ones((*offset.shape[:2], 1)), scaled], axis=2)
    k = stiffness / np.maximum(stiffness.sum(axis=1), 1e-300)[:, None]
    forces = np.full(stiffness.shape, np.nan)
    rest, touching = np.flatnonzero(there.sum(axis=1) >= 3), there
    left = [np.flatnonzero((there.sum(axis=1) > 0) & (there.sum(axis=1) < 3))]
    load = np.array([1.0, 0.0, 0.0])
    for _ in range(ROUNDS):
        own, weights = A[rest], k[rest] * touching[rest]
        hessian = np.einsum("bni,bn,bnj->bij", own, weights, own)
        thin = np.linalg.det(hessian) < 1e-9
        left.append(rest[thin])
        rest, own, weights, hessian = rest[~thin], own[~thin], weights[~thin], hessian[~thin]
        if not len(rest):
            break
        u = np.linalg.solve(hessian, np.broadcast_to(load, (len(rest), 3))[:, :, None])
        error = np.einsum("bni,bn->bi", own, weights * (own @ u)[:, :, 0]) - load
        u = u - np.linalg.solve(hessian, error[:, :, None])
        depth = (own @ u)[:, :, 0]
        presses = (depth > 0) & there[rest]
        done = (presses == touching[rest]).all(axis=1)
        forces[rest[done]] = weight_N * (k[rest] * np.where(presses, depth, 0))[done]
        touching = touching.copy()
        touching[rest] = presses
        rest = rest[~done]
    for i in np.concatenate([*left, rest]).tolist():
        on = there[i]
        found = solve_springs(points_m[i, on], stiffness[i, on], weight_N, centres_m[i])
        if found is not None:
            forces[i] = 0
            forces[i, on] = found
    return forces
