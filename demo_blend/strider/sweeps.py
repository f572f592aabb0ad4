"""Shafts: an oval drawn along a curve, its two half-widths running from place to place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from .solids import Array, Solid

_PIECES = 12
_AT_ONCE = 20_000


def sweep(places: Sequence[Array], across: Sequence[float], deep: Sequence[float], side: Array) -> Solid:
    """An oval along a smooth curve through places (n, 3); its ends are rounded off.

    across, deep : (n,) half-widths at the places, along `side` (3,) as far as the curve leaves that free, and at right
        angles to it [m]
    """
    line, widths = _draw_curve(np.array(places, float), np.array([across, deep], float))
    starts, steps = line[:-1], np.diff(line, axis=0)
    aside = np.array([_leave_free(side, step) for step in steps])
    squares, along = np.einsum("ij,ij->i", steps, steps), np.einsum("ij,ij->i", starts, steps)

    def measure(p: Array) -> Array:
        run = p @ steps.T - along
        t = np.clip(run / squares, 0, 1)
        off = (p**2).sum(axis=1)[:, None] - 2 * p @ starts.T + (starts**2).sum(axis=1) - t * (2 * run - t * squares)
        k, rows = off.argmin(axis=1), np.arange(len(p))
        at = t[rows, k]
        y = np.einsum("ij,ij->i", p - starts[k] - at[:, None] * steps[k], aside[k])
        rest = np.sqrt(np.maximum(off[rows, k] - y**2, 0))
        return _measure_oval(y, rest, widths[k] + at[:, None] * (widths[k + 1] - widths[k]))

    return lambda p: np.concatenate([measure(p[i : i + _AT_ONCE]) for i in range(0, len(p), _AT_ONCE)])


def _draw_curve(places: Array, widths: Array) -> tuple[Array, Array]:
    """Points (m, 3) on the curve and half-widths (m, 2) there."""
    lengths = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(places, axis=0), axis=1))])
    at = np.linspace(0, lengths[-1], _PIECES + 1)
    curve = CubicSpline(lengths, places, bc_type="natural")(at) if len(places) > 2 else None
    straight = np.column_stack([np.interp(at, lengths, places[:, k]) for k in range(3)])
    return straight if curve is None else curve, PchipInterpolator(lengths, widths, axis=1)(at).T


def _leave_free(side: Array, step: Array) -> Array:
    free = side - step * (side @ step) / (step @ step)
    return free / np.linalg.norm(free)


def _measure_oval(y: Array, rest: Array, half: Array) -> Array:
    """Distance from an oval of half-widths (n, 2), to first order."""
    k0 = np.hypot(y / half[:, 0], rest / half[:, 1])
    k1 = np.hypot(y / half[:, 0] ** 2, rest / half[:, 1] ** 2)
    return np.where(k0 > 1e-9, k0 * (k0 - 1) / np.maximum(k1, 1e-9), -half.min(axis=1))
