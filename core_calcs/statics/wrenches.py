"""Wrenches at the cuts through a tree of rigid bodies at rest.

A wrench is six numbers, force [N] then moment [N·m], world axes, about a point that is named. At the cut above a body
it is what the distal part (that body and all it carries) does to the proximal part: the sum of what acts on the distal
part from outside, and just as well the opposite of the sum over the rest. Both sums are taken on their own ways, so
that their difference shows an error of either.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array


def make_wrenches(forces_N: ArrayLike, points_m: ArrayLike, about_m: ArrayLike) -> Array:
    """Wrenches (..., 6) of forces (..., 3) at points (..., 3), about points (..., 3)."""
    force = np.asarray(forces_N, float)
    arm = np.asarray(points_m, float) - np.asarray(about_m, float)
    force, arm = np.broadcast_arrays(force, arm)
    wrenches: Array = np.concatenate([force, _cross(arm, force)], axis=-1)
    return wrenches


def move_wrenches(wrenches: ArrayLike, from_m: ArrayLike, to_m: ArrayLike) -> Array:
    """The same wrenches (..., 6), known about `from_m` (..., 3), about `to_m` (..., 3)."""
    w = np.asarray(wrenches, float)
    arm = np.asarray(from_m, float) - np.asarray(to_m, float)
    moved = np.empty((*np.broadcast_shapes(w.shape[:-1], arm.shape[:-1]), 6))
    moved[..., :3] = w[..., :3]
    moved[..., 3:] = w[..., 3:] + _cross(*np.broadcast_arrays(arm, w[..., :3]))
    return moved


def _cross(a: Array, b: Array) -> Array:
    """Cross product (..., 3): several times quicker than numpy's for small arrays."""
    out = np.empty(a.shape)
    out[..., 0] = a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1]
    out[..., 1] = a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2]
    out[..., 2] = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return out


def sum_distal(parents: np.ndarray, values: ArrayLike) -> Array:
    """For every body the sum of values (n, ...) over it and all it carries; parents (n,) come before their children."""
    sums: Array = np.array(values, float)
    rows = list(sums.reshape(len(sums), -1))  # a view of each: to take one by its index takes as long as the sum
    for own, parent in zip(rows[:0:-1], parents[:0:-1].tolist(), strict=True):
        rows[parent] += own
    return sums


def sum_proximal(order: np.ndarray, ends: np.ndarray, values: ArrayLike) -> Array:
    """For every body the sum of values (n, ...) over all the rest, without use of `sum_distal`.

    order, ends : (n,) of `find_preorder`
    """
    v = np.asarray(values, float)[order]
    none = np.zeros((1, *v.shape[1:]))
    before = np.concatenate([none, np.cumsum(v, axis=0)])
    after = np.concatenate([np.cumsum(v[::-1], axis=0)[::-1], none])
    rest: Array = np.empty_like(v)
    rest[order] = before[:-1] + after[ends]
    return rest


def find_preorder(parents: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Bodies in an order in which every body's branch is one slice: (n,) indices, and (n,) where each slice ends.

    The branch of ``order[i]`` is ``order[i:ends[i]]``. Parents (n,) come before their children.
    """
    n = len(parents)
    size = np.ones(n, int)
    for i in range(n - 1, 0, -1):
        size[parents[i]] += size[i]
    start, taken = np.zeros(n, int), np.ones(n, int)
    for i in range(1, n):
        start[i] = start[parents[i]] + taken[parents[i]]
        taken[parents[i]] += size[i]
    order = np.argsort(start)
    return order, start[order] + size[order]
