"""What the ground carries under every contact point, vertically: by equal springs, and how far it can vary.

Only three of the vertical forces follow from equilibrium. Two answers are given for the rest: one by springs, and the
range over every set of forces that keeps the equilibrium and pulls nowhere (rigid feet on a rigid base).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array

ROUNDS = 60
"""Newton steps after which the springs are given up; a handful is usual."""

LINE = 1e-9
"""Points that spread less than this share across than along lie in one line."""

THIN = 1e-4
"""Of springs whose spreads across and along make less than this, as a share of their sum squared, the closed form would
lose digits."""


def solve_springs(
    points_m: ArrayLike,
    stiffness: ArrayLike,
    weight_N: float,
    centre_m: ArrayLike,
    anchored: ArrayLike | None = None,
) -> Array | None:
    """Forces (n,) of vertical springs at ground points (n, 2) under a weight at (2,); released where they would pull.

    anchored : (n,) whether a point can be pulled at: it is not released

    The body is rigid: it sinks and tilts by three unknowns u, and ``f_i = k_i max(0, (1, x_i, y_i) u)``, without the
    max where it is anchored. Their equilibrium is the least of a convex, piecewise quadratic energy, found by a
    semismooth Newton method with an exact line search, which ends after a finite number of steps. Only the ratios of
    the stiffnesses (n,) matter.

    Returns
    -------
    Forces [N], negative at anchored points alone; None where no such forces keep the equilibrium: without anchors where
    the centre lies outside the points' convex hull.
    """
    points = np.asarray(points_m, float).reshape(-1, 2)
    held = np.zeros(len(points), bool) if anchored is None else np.asarray(anchored, bool)
    # Seen from the centre of mass, or from the points where anchors hold one far outside.
    origin = points.mean(axis=0) if held.any() else np.asarray(centre_m, float)
    A, scaled = _seen_from(points, origin)
    if not held.any() and _lies_outside(A[:, 1:]):
        return None
    k = np.asarray(stiffness, float) / np.sum(stiffness)
    load = np.array([1.0, *((np.asarray(centre_m, float) - origin) @ scaled)])
    scale = float(np.abs(load).max())
    u = np.array([1.0, 0.0, 0.0])
    least, best = np.inf, np.zeros(len(A))
    for _ in range(ROUNDS):
        depth = A @ u
        press = _press(depth, held)
        gradient = A.T @ (k * press) - load
        error = float(np.abs(gradient).max()) / scale
        if error < least:
            least, best = error, k * press
        if error <= 1e-15:
            break
        hessian = (A * (k * ((press > 0) | held))[:, None]).T @ A
        # A trace of damping lets the step run where too few points touch; the line search holds it.
        step = np.linalg.solve(hessian + 1e-14 * np.eye(3), -gradient)
        along = A @ step
        touching = (depth >= 0) & (depth + along >= 0) | held
        # Where all stay in touch on the way the energy is one parabola: the whole step is the least of it.
        length = 1.0 if touching.all() else _search_line(depth, along, k, float(load @ step), held)
        if length is None:
            return None
        u = u + length * step
    forces: Array = weight_N * best
    return forces if least <= 1e-11 else None


def _lies_outside(offsets: Array) -> bool:
    """Whether points (n, 2) leave more than half of the way round their origin free: it is outside their hull.

    On its edge, but for 1e-9, it is not.
    """
    if (np.abs(offsets).max(axis=1, initial=0.0) < 1e-9).any():
        return False
    angles = np.sort(np.arctan2(offsets[:, 1], offsets[:, 0]))
    gaps = np.diff(angles, append=angles[:1] + 2 * np.pi)
    return bool((gaps > np.pi + 1e-9).any())


def _press(depth: Array, held: np.ndarray) -> Array:
    """What springs (n,) pressed in by a depth give, over their stiffness: none pulls that is not held."""
    pressed: Array = np.where(held, depth, np.maximum(depth, 0))
    return pressed


def solve_springs_in_touch(
    points_m: ArrayLike, stiffness: ArrayLike, weight_N: float, centre_m: ArrayLike
) -> Array | None:
    """The same where no spring is released, in closed form: a rigid plate under a load off the centre of its springs.

    Seen from that centre the plate sinks by one and tilts by two unknowns that know nothing of each other.

    Returns
    -------
    None where a spring would pull, and where the points are too few or too thin a line for the closed form's digits.
    """
    points = np.asarray(points_m, float).reshape(-1, 2)
    k = np.asarray(stiffness, float)
    k = k / np.add.reduce(k)
    middle = k @ points
    arm = points - middle
    (sxx, sxy), (_, syy) = ((arm * k[:, None]).T @ arm).tolist()
    x, y = (np.asarray(centre_m, float) - middle).tolist()
    det = sxx * syy - sxy * sxy
    if not det > THIN * (sxx + syy) ** 2:
        return None
    tilt = np.array([(syy * x - sxy * y) / det, (sxx * y - sxy * x) / det])
    push = k * (1.0 + arm @ tilt)
    forces: Array = weight_N * push
    return forces if push.min() >= 0 else None


def _seen_from(points_m: ArrayLike, centre_m: ArrayLike) -> tuple[Array, Array]:
    """Rows (1, x, y) of points (n, 2) seen from the centre, and the map (2, 2) that took their offsets to x, y.

    Equilibrium does not mind along which axes and in which units moments are taken: these are such that the points
    spread alike along both, so that thin supports cost no digits.
    """
    offset = np.asarray(points_m, float).reshape(-1, 2) - np.asarray(centre_m, float)
    reach = float(np.abs(offset).max(initial=0.0)) or 1.0
    # Two rows more of nothing: one point alone has no axes.
    _, spread, axes = np.linalg.svd(np.concatenate([offset / reach, np.zeros((2, 2))]), full_matrices=False)
    # Points in one line have no spread across it, but for rounding; points in one place none at all.
    spread = np.where(spread > LINE * spread[0], spread, spread[0] or 1.0)
    scaled: Array = axes.T * (np.sqrt(max(len(offset), 1)) / (spread * reach))
    return np.column_stack([np.ones(len(offset)), offset @ scaled]), scaled


def _search_line(start: Array, along: Array, k: Array, work: float, held: np.ndarray) -> float | None:
    """Where the energy is least along a step: the root of its slope, which is piecewise linear and never falls."""
    with np.errstate(divide="ignore", invalid="ignore"):
        breaks = -start / along
    breaks = np.sort(breaks[np.isfinite(breaks) & (breaks > 0) & ~held])
    last = breaks[-1] if len(breaks) else 0.0
    ends = np.concatenate([[0.0], breaks, [2 * last + 1.0]])
    slope = _press(start + ends[:, None] * along, held) @ (k * along) - work
    beyond = np.flatnonzero(slope >= 0)
    j = int(beyond[0]) if len(beyond) else len(ends) - 1
    if j == 0:
        return 0.0
    rise = slope[j] - slope[j - 1]
    if rise <= 0:
        return None
    return float(ends[j - 1] - slope[j - 1] * (ends[j] - ends[j - 1]) / rise)


def find_reaction_vertices(points_m: ArrayLike, weight_N: float, centre_m: ArrayLike) -> tuple[np.ndarray, Array]:
    """Vertices of the set of pushing forces at ground points (n, 2) that carry a weight at (2,).

    Every linear figure of the forces (a foot's share, a joint's moment) has its least and greatest value at a vertex,
    and a vertex loads no more than three points: those of a triangle that holds the centre. All such triangles are
    listed, so that the ranges taken from them are exact.

    Returns
    -------
    corners (v, 3) indices of the points that a vertex loads, forces (v, 3) [N] on them; v = 0 where none carry it
    """
    A, _ = _seen_from(points_m, centre_m)
    x, y = A[:, 1], A[:, 2]
    # Twice the area that the centre makes with every pair, > 0 where the pair turns left about it.
    area = np.outer(x, y) - np.outer(y, x)
    left = area >= -ROUNDING
    first = np.arange(len(A))
    # One of the three turns of a triangle is enough: that which begins with its smallest index.
    begins = left & (first[:, None] < first)
    i, j, k = np.nonzero(begins[:, :, None] & left[None, :, :] & (left.T & (first[:, None] < first))[:, None, :])
    shares = np.maximum(np.stack([area[j, k], area[k, i], area[i, j]], axis=1), 0)
    whole = shares.sum(axis=1)
    real = whole > 10 * ROUNDING
    corners = np.stack([i, j, k], axis=1)[real]
    forces: Array = weight_N * shares[real] / whole[real, None]
    return corners, forces


ROUNDING = 1e-13
"""Areas, in squares of the points' spread, that are rounding."""
