"""The support polygon: the convex hull of the ground's points of contact as seen from above."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array

THIN = 1e-9
"""Points nearer to one line than this share of their extent lie on it: no polygon stands on them."""

IN_LINE = 1e-12
"""Points this close to the line between two others, as a share of the extent, do not bend it."""

SAME_M = 1e-9
"""Points that lie within this length of their middle are one point."""


def find_support_polygon(points_m: ArrayLike) -> Array:
    """Convex hull (k, 2) of ground points (n, 2), counter-clockwise, corners alone.

    Andrew's monotone chain (Inf. Process. Lett. 9 (1979) 216-219). Duplicates and points along an edge drop out. Where
    all points lie in one line its two ends are returned, where all are one point that one: fewer than three corners
    are no polygon.
    """
    points = np.asarray(points_m, float).reshape(-1, 2)
    polygon: Array = points[find_outline(points)]
    return polygon


def find_outline(points_m: ArrayLike) -> np.ndarray:
    """Indices (k,) of the corners of the convex hull of points (n, 2): see `find_support_polygon`."""
    points = np.asarray(points_m, float).reshape(-1, 2)
    if not len(points):
        return np.zeros(0, int)
    local = points - np.add.reduce(points) / len(points)
    extent = float(np.abs(local).max())
    if extent <= SAME_M:
        return np.zeros(1, int)
    local /= extent
    outer = _drop_inner(local)
    # Plain numbers from here: few points are left, and arrays of a few cost more to call than to count.
    xy = (local if outer is None else local[outer]).tolist()
    order = _sort_along(xy)
    lower = _chain(xy, order)
    upper = _chain(xy, order[::-1])
    ring = lower[:-1] + upper[:-1]
    if len(ring) < 3 or not _is_wide([xy[i] for i in ring]):
        (ax, ay), (bx, by) = xy[order[0]], xy[order[-1]]
        ring = [order[0], order[-1]] if max(abs(bx - ax), abs(by - ay)) > THIN else order[:1]
    found: np.ndarray = np.array(ring) if outer is None else outer[ring]
    return found


def _sort_along(xy: list[list[float]]) -> list[int]:
    """Order of points along x, those of the same x along y, rounding apart.

    The chain must go up a side that stands along y from its one end to the other, not to and fro as rounding has it.
    """
    order = sorted(range(len(xy)), key=lambda i: xy[i][0])
    begin = 0
    for end in range(1, len(order) + 1):
        if end == len(order) or xy[order[end]][0] - xy[order[end - 1]][0] > THIN:
            if end - begin > 1:
                order[begin:end] = sorted(order[begin:end], key=lambda i: xy[i][1])
            begin = end
    return order


def _drop_inner(local: Array) -> np.ndarray | None:
    """Indices of points (n, 2) that may be corners: not well inside the polygon of those furthest in many directions.
    None: all may.

    (After Akl & Toussaint, Inf. Process. Lett. 7 (1978) 219-222: it spares the chain most points of a scanned foot.)
    """
    if len(local) <= 32:
        return None
    ring = local[np.argmax(_DIRECTIONS @ local.T, axis=1)]
    along = _next(ring) - ring
    # One point may be furthest in several directions: no side lies between it and itself.
    sides = along.any(axis=1)
    if sides.sum() < 3:
        return None
    across = np.column_stack([-along[sides, 1], along[sides, 0]])
    depth = across @ local.T - (ring[sides] * across).sum(axis=1)[:, None]
    return np.flatnonzero(depth.min(axis=0) <= THIN)


_DIRECTIONS = np.array([[np.cos(a), np.sin(a)] for a in np.arange(24) * np.pi / 12])


def _next(corners: Array) -> Array:
    """For every corner (k, 2) of a ring the next one."""
    following: Array = np.concatenate([corners[1:], corners[:1]])
    return following


def _chain(xy: list[list[float]], order: list[int]) -> list[int]:
    """One half of the hull: indices that turn left all the way, co-ordinates scaled to an extent of 1."""
    chain: list[int] = []
    for i in order:
        x, y = xy[i]
        while len(chain) >= 2:
            (ax, ay), (bx, by) = xy[chain[-2]], xy[chain[-1]]
            ux, uy, vx, vy = bx - ax, by - ay, x - ax, y - ay
            # A corner has to stand off the line past it by more than IN_LINE of the extent.
            if ux * vy - uy * vx > IN_LINE * (vx * vx + vy * vy) ** 0.5:
                break
            chain.pop()
        if not chain or max(abs(x - xy[chain[-1]][0]), abs(y - xy[chain[-1]][1])) > THIN:
            chain.append(i)
    return chain


def _is_wide(ring: list[list[float]]) -> bool:
    """Whether every edge of a convex ring, scaled to an extent of 1, has a corner more than THIN off it."""
    for i, (x, y) in enumerate(ring):
        ax, ay = ring[i - 1]
        ux, uy = x - ax, y - ay
        least = THIN * math.hypot(ux, uy)
        if not any(abs(ux * (oy - ay) - uy * (ox - ax)) > least for ox, oy in ring):
            return False
    return True


def find_polygon_centroid(polygon_m: ArrayLike) -> Array:
    """Centre of area (2,) of a polygon (k, 2); the mean where it has fewer than three corners."""
    corners = np.asarray(polygon_m, float)
    middle: Array = corners.mean(axis=0)
    if len(corners) < 3:
        return middle
    a = corners - middle
    b = _next(a)
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    centroid: Array = middle + ((a + b) * cross[:, None]).sum(axis=0) / (3 * cross.sum())
    return centroid
