"""The support polygon and how near the body is to tipping over each of its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array

THIN = 1e-9
"""Points nearer to one line than this share of their extent lie on it: no polygon stands on them."""

SAME_M = 1e-9
"""Points that lie within this length of their middle are one point."""


@dataclass(frozen=True, eq=False)
class EdgeMargins:
    """Margins per edge of the support polygon; edge i runs from corner i to the next, the last back to the first.

    distance_m : (k,) of the centre's ground point from the edge's line, > 0 inside
        (static stability margin: McGhee & Frank, Math. Biosci. 3 (1968) 331-351)
    tip_angle_rad : (k,) tilt about the edge that brings the centre over it, atan(d/h)
    energy_J : (k,) work that does so, W (sqrt(d² + h²) - h), with the sign of d
        (Messuri & Klein, IEEE J. Robotics Autom. 1 (1985) 132-141)
    """

    distance_m: Array
    tip_angle_rad: Array
    energy_J: Array


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
    local = points - points.mean(axis=0)
    extent = float(np.abs(local).max())
    if extent <= SAME_M:
        return np.zeros(1, int)
    local /= extent
    outer = _drop_inner(local)
    outer = outer[np.lexsort((local[outer, 1], local[outer, 0]))]
    xy, order = local[outer].tolist(), list(range(len(outer)))
    lower = _chain(xy, order)
    upper = _chain(xy, order[::-1])
    ring: np.ndarray = outer[lower[:-1] + upper[:-1]]
    if len(ring) >= 3 and _width(local[ring]) > THIN:
        return ring
    ends: np.ndarray = outer[[0, -1]]
    return ends if np.ptp(local[ends], axis=0).max() > THIN else ends[:1]


def _drop_inner(local: Array) -> np.ndarray:
    """Indices of points (n, 2) that may be corners: not well inside the polygon of those furthest in many directions.

    (After Akl & Toussaint, Inf. Process. Lett. 7 (1978) 219-222: it spares the chain most points of a scanned foot.)
    """
    if len(local) <= 32:
        return np.arange(len(local))
    ring = local[np.argmax(_DIRECTIONS @ local.T, axis=1)]
    along = _next(ring) - ring
    # One point may be furthest in several directions: no side lies between it and itself.
    sides = along.any(axis=1)
    if sides.sum() < 3:
        return np.arange(len(local))
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
            # A corner has to stand off the line past it by more than THIN of the extent.
            if ux * vy - uy * vx > THIN * (vx * vx + vy * vy) ** 0.5:
                break
            chain.pop()
        if not chain or max(abs(x - xy[chain[-1]][0]), abs(y - xy[chain[-1]][1])) > THIN:
            chain.append(i)
    return chain


def _width(ring: Array) -> float:
    """Least width of a convex ring (k, 2) across its edges."""
    along = _next(ring) - ring
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    across = normal @ ring.T - (normal * ring).sum(axis=1)[:, None]
    return float(np.abs(across).max(axis=1).min())


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


def measure_margins(polygon_m: ArrayLike, centre_m: ArrayLike, weight_N: float, ground_m: float) -> EdgeMargins:
    """Margins of a centre of mass (3,) [m] over each edge of a counter-clockwise polygon (k, 2), k >= 3, at rest.

    The polygon's edges are taken as endless lines: outside and beyond a corner the distance to the line is given,
    which is no greater than that to the corner.
    """
    corners, centre = np.asarray(polygon_m, float), np.asarray(centre_m, float)
    along = _next(corners) - corners
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    offset = centre[:2] - corners
    distance = along[:, 0] * offset[:, 1] - along[:, 1] * offset[:, 0]
    height = centre[2] - ground_m
    reach = np.hypot(distance, height)
    # d²/(reach + h) is reach - h without the cancellation of small distances under high centres.
    rise = distance**2 / (reach + height) if height > 0 else reach - height
    return EdgeMargins(distance, np.arctan2(distance, height), weight_N * np.copysign(rise, distance))


def find_overturning_factors(
    polygon_m: ArrayLike, centre_m: ArrayLike, weight_N: float, push_N: ArrayLike, push_height_m: float
) -> Array:
    """Stabilising over overturning moment (k,) about each edge for a horizontal push (2,) [N] at a height above ground.

    Characteristic values, without partial factors; infinite about edges that the push does not turn the body over.
    """
    corners = np.asarray(polygon_m, float)
    along = _next(corners) - corners
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    push = np.asarray(push_N, float)
    outward = along[:, 1] * push[0] - along[:, 0] * push[1]
    centre = np.asarray(centre_m, float)
    stabilising = weight_N * measure_margins(corners, [centre[0], centre[1], 0.0], weight_N, 0.0).distance_m
    overturning = outward * push_height_m
    factors = np.full(len(corners), np.inf)
    np.divide(stabilising, overturning, out=factors, where=overturning > 0)
    return factors


def find_sliding_factor(weight_N: float, push_N: ArrayLike, friction: float) -> float:
    """Friction that can be called up over the horizontal push (2,) [N]; infinite without a push."""
    push = float(np.hypot(*np.asarray(push_N, float)))
    return friction * weight_N / push if push > 0 else float("inf")
