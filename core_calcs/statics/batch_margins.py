"""Margins of many poses at once: the hulls of their contact points by gift wrapping, all poses in step.

The same figures as `stability` gives one by one, in arrays over the poses. (Gift wrapping: Jarvis, Inf. Process. Lett.
2 (1973) 18-21.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array
from .polygon import IN_LINE, THIN


@dataclass(frozen=True, eq=False)
class BatchMargins:
    """Least margins over the edges of each pose's support polygon (b,); NaN where it stands on none.

    distance_m, tip_angle_rad, energy_J : as `stability.EdgeMargins`, each one's least
    edge : (b, 2) indices of the two contact points of the edge with the least distance; -1 without a polygon
    """

    distance_m: Array
    tip_angle_rad: Array
    energy_J: Array
    edge: np.ndarray


def measure_batch(points_m: ArrayLike, stands: ArrayLike, centres_m: ArrayLike, weight_N: ArrayLike) -> BatchMargins:
    """Margins of poses with contact points (b, n, 3) [m], of which (b, n) stand, and centres of mass (b, 3).

    points_m : z is the height of the ground under each point
    weight_N : of every pose, or (b,)
    """
    points, on, centres = np.asarray(points_m, float), np.asarray(stands, bool), np.asarray(centres_m, float)
    poses, count = on.shape
    weight = np.broadcast_to(np.asarray(weight_N, float), (poses,))
    if not on.any():
        none = np.full(poses, np.nan)
        return BatchMargins(none, none.copy(), none.copy(), np.full((poses, 2), -1))
    # Seen from the centre of mass: no digits are lost far from the origin. Points that do not stand are laid on the
    # first that does.
    used = np.where(on, np.arange(count), on.argmax(axis=1)[:, None])
    if not on.all():
        points = np.take_along_axis(points, used[:, :, None], axis=1)
    x, y, z = np.ascontiguousarray(points.T) - centres.T[:, None, :]
    extent = np.maximum(np.ptp(x, axis=0), np.ptp(y, axis=0))
    scale = 1 / np.where(extent > 0, extent, 1.0)
    ring = wrap_hulls((x - x[0]) * scale, (y - y[0]) * scale)
    found = on.any(axis=1) & (_measure_widths(x * scale, y * scale, ring) > THIN)
    distance, angle, energy = _measure_edges(x, y, z, ring, weight)
    least = distance.argmin(axis=0)
    own = np.arange(poses)
    edge = np.stack([used[own, ring[:-1][least, own]], used[own, ring[1:][least, own]]], axis=1)
    margins = [np.where(found, figure.min(axis=0), np.nan) for figure in (distance, angle, energy)]
    return BatchMargins(margins[0], margins[1], margins[2], np.where(found[:, None], edge, -1))


def wrap_hulls(x: Array, y: Array) -> np.ndarray:
    """Corners (k + 1, b) of the hulls of points x, y (n, b) of extent 1, counter-clockwise, as indices of the points.

    Each column begins with the leftmost point, goes round once, and stays at the last point, the first again.
    """
    count, poses = x.shape
    leftmost = x <= x.min(axis=0) + IN_LINE
    start = np.where(leftmost, y, np.inf).argmin(axis=0)
    ring = [start]
    rest, at = np.arange(poses), start
    for _ in range(count):
        following = _find_next(x, y, at)
        own = np.arange(len(rest))
        closing = np.maximum(
            np.abs(x[following, own] - x[start[rest], own]), np.abs(y[following, own] - y[start[rest], own])
        )
        following = np.where(closing <= THIN, start[rest], following)
        ring.append(start.copy())
        ring[-1][rest] = following
        open_ = following != start[rest]
        if not open_.any():
            break
        if not open_.all():
            x, y, rest = x[:, open_], y[:, open_], rest[open_]
        at = following[open_]
    return np.stack(ring)


def _find_next(x: Array, y: Array, at: np.ndarray) -> np.ndarray:
    """For each pose the point (b,) that has all others on the left as seen from the corner at (b,); of several in one
    line the farthest."""
    own = np.arange(len(at))
    x0, y0 = x[at, own], y[at, own]
    best, bx, by, b2 = at.copy(), np.zeros_like(x0), np.zeros_like(x0), np.full_like(x0, THIN**2)
    for j in range(len(x)):
        dx, dy = x[j] - x0, y[j] - y0
        across, d2 = bx * dy - by * dx, dx * dx + dy * dy
        in_line = across * across <= IN_LINE**2 * b2
        better = np.where(in_line, d2 > b2, across < 0) & (d2 > THIN**2)
        best = np.where(better, j, best)
        bx, by, b2 = np.where(better, dx, bx), np.where(better, dy, by), np.where(better, d2, b2)
    return best


def _measure_widths(x: Array, y: Array, ring: np.ndarray) -> Array:
    """Least width (b,) of each hull of points (n, b) of extent 1 across its edges; 0 where it is a line or a point."""
    own = np.arange(x.shape[1])
    width = np.full(x.shape[1], np.inf)
    xr, yr = x[ring, own], y[ring, own]
    for x0, y0, ux, uy in zip(xr, yr, np.diff(xr, axis=0), np.diff(yr, axis=0), strict=False):
        length = np.sqrt(ux * ux + uy * uy)
        across = (ux * (y - y0) - uy * (x - x0)).max(axis=0)
        np.minimum(width, across / np.where(length > 0, length, 1.0), out=width, where=length > 0)
    return np.where(np.isfinite(width), width, 0.0)


def _measure_edges(x: Array, y: Array, z: Array, ring: np.ndarray, weight: Array) -> tuple[Array, Array, Array]:
    """Distance, tip angle and energy (k, b) of every edge; infinite where a hull has fewer. Points from the centre."""
    own = np.arange(x.shape[1])
    xr, yr, zr = x[ring, own], y[ring, own], z[ring, own]
    ux, uy, uz = np.diff(xr, axis=0), np.diff(yr, axis=0), np.diff(zr, axis=0)
    side = ring[:-1] != ring[1:]
    plan = np.where(side, np.sqrt(ux * ux + uy * uy), 1.0)
    level = plan / np.sqrt(plan * plan + uz * uz)
    distance = (uy * xr[:-1] - ux * yr[:-1]) / plan
    # Above the axis where it passes the centre, and across it.
    past = -(ux * xr[:-1] + uy * yr[:-1]) / plan**2
    height = -(zr[:-1] + past * uz) * level
    reach = np.sqrt(distance * distance + height * height)
    low = height <= 0
    rise = np.where(low, reach - height, distance**2 / np.where(low, 1.0, reach + height))
    energy = weight * level * np.copysign(rise, distance)
    angle = np.arctan2(distance, height)
    return np.where(side, distance, np.inf), np.where(side, angle, np.inf), np.where(side, energy, np.inf)
