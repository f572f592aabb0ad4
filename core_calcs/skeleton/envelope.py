"""The coupled range of a joint: which attitudes it may take, and how far inside them a pose is.

Attitudes are points of cosine-corrected joint space: (flexion · cos lateral, lateral, axial) [rad]. With the second
rotation's cosine the volume of a set of points is that of the set of rotations, whatever the joint's axes, and not one
that grows where flexion and axial turn nearly coincide (Manafzadeh & Gatesy, J. Exp. Biol. 2020, 10.1242/jeb.227108).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..spatial.transforms import Array
from .joint import AxisLimit, Envelope

HELD_RAD = 1e-4
"""Angles this little (0.006°) off a held axis are on it: what the constraints of a single-precision rig leave."""
_LEVELS = 3
_LEAST_SHARE = 1e-3
"""Where a joint is stopped at once its envelope is this thin, so that it has an inside and an outside."""


@dataclass(frozen=True, eq=False)
class Sphere:
    """Directions over the sphere, finer by edges halved in each level, the six axes first.

    directions : (258, 3) unit; triangles : (512, 3) of them
    parents : (258, 2) the two that a direction halves; levels : (258,) 0 for the six axes
    """

    directions: Array
    triangles: NDArray[np.int64]
    parents: NDArray[np.int64]
    levels: NDArray[np.int64]


@cache
def list_directions() -> Sphere:
    """An octahedron whose edges are halved three times."""
    directions = [np.array(axis, float) for axis in np.vstack([np.eye(3), -np.eye(3)])]
    parents, levels = [(i, i) for i in range(6)], [0] * 6
    triangles = [(x, y, z) for x in (0, 3) for y in (1, 4) for z in (2, 5)]
    for level in range(1, _LEVELS + 1):
        middles: dict[tuple[int, int], int] = {}
        for a, b, c in triangles:
            for edge in ((a, b), (b, c), (a, c)):
                pair = (min(edge), max(edge))
                if pair not in middles:
                    middles[pair] = len(directions)
                    middle = directions[pair[0]] + directions[pair[1]]
                    directions.append(middle / np.linalg.norm(middle))
                    parents.append(pair)
                    levels.append(level)
        triangles = [part for corners in triangles for part in _quarter(corners, middles)]
    return Sphere(np.array(directions), np.array(triangles), np.array(parents), np.array(levels))


@cache
def list_ring(held: int) -> NDArray[np.int64]:
    """Numbers (32,) of the directions that have no part of one of the three axes, in order round it."""
    directions = list_directions().directions
    ring = np.flatnonzero(np.abs(directions[:, held]) < 1e-12)
    u, v = directions[ring][:, [axis for axis in range(3) if axis != held]].T
    ordered: NDArray[np.int64] = ring[np.argsort(np.arctan2(v, u))]
    return ordered


def _quarter(corners: tuple[int, int, int], middles: dict[tuple[int, int], int]) -> list[tuple[int, int, int]]:
    a, b, c = corners
    ab, bc, ac = (middles[min(edge), max(edge)] for edge in ((a, b), (b, c), (a, c)))
    return [(a, ab, ac), (b, ab, bc), (c, ac, bc), (ab, bc, ac)]


def correct_angles(angles_rad: ArrayLike) -> Array:
    """Points (..., 3) of cosine-corrected joint space of joint angles (..., 3)."""
    points = np.array(angles_rad, float)
    points[..., 0] *= np.cos(points[..., 1])
    return points


def find_angles(points: ArrayLike) -> Array:
    """Joint angles (..., 3) of points (..., 3) of cosine-corrected joint space, lateral within ±90°."""
    angles = np.array(points, float)
    angles[..., 0] /= np.cos(angles[..., 1])
    return angles


def scale_directions(scale_rad: Array) -> Array:
    """(258, 3) points of the ellipsoids through the six ends of the axes (3, 2), one in each octant."""
    directions = list_directions().directions
    scaled: Array = directions * np.where(directions < 0, -scale_rad[:, 0], scale_rad[:, 1])
    return scaled


def find_corners(envelope: Envelope) -> Array:
    """(258, 3) corners of the envelope in cosine-corrected joint space; `list_directions` has its triangles."""
    corners: Array = scale_directions(envelope.scale_rad) * np.maximum(envelope.shares, _LEAST_SHARE)[:, None]
    return corners


def measure_volume_deg3(envelope: Envelope) -> float:
    """Volume in cosine-corrected joint space: how much the joint can turn, whatever the axes it is told in.

    Zero of one that turns about two axes alone.
    """
    corners = find_corners(envelope)[list_directions().triangles]
    return float(np.abs(np.linalg.det(corners)).sum() / 6 * np.degrees(1) ** 3)


def lie_inside(envelope: Envelope, angles_rad: ArrayLike) -> NDArray[np.bool_]:
    """Whether joint angles (n, 3) lie inside the envelope."""
    points = correct_angles(np.asarray(angles_rad, float).reshape(-1, 3))
    return np.array([_prepare_body(envelope).measure_use(point) <= 1 for point in points], bool)


def measure_inside(limits: Sequence[AxisLimit], envelope: Envelope | None, angles_rad: Array) -> float:
    """How far inside its range a joint is [rad]: above zero inside, zero at the boundary, below zero outside.

    The distance to the nearest attitude on the boundary: of the envelope, in cosine-corrected joint space, where there
    is one, and of the box of the six limits. It changes by no more than the attitude does, so that it can colour, warn
    and be searched along. An axis that is held at one angle bounds nothing from inside and counts once it is left.
    """
    ends = np.array([[(end.low.angle_rad, end.high.angle_rad) for end in limits]])
    return measure_all_inside(ends[:, :, 0], ends[:, :, 1], [envelope], angles_rad[None])[0]


def measure_all_inside(
    low_rad: Array, high_rad: Array, envelopes: Sequence[Envelope | None], angles_rad: Array
) -> list[float]:
    """The same of many joints at angles (n, 3) with limits (n, 3)."""
    inside = _measure_in_boxes(low_rad, high_rad, angles_rad).tolist()
    return [
        box if envelope is None else min(box, _measure_in_envelope(envelope, *own))
        for box, envelope, own in zip(inside, envelopes, angles_rad.tolist(), strict=True)
    ]


def _measure_in_boxes(low: Array, high: Array, angles: Array) -> Array:
    room = np.minimum(angles - low, high - angles)
    room[(low == high) & (room >= -HELD_RAD)] = np.inf
    over = np.minimum(room, 0)
    least = room.min(axis=1)
    inside: Array = np.where(over.any(axis=1), -np.linalg.norm(over, axis=1), np.where(np.isfinite(least), least, 0.0))
    return inside


@lru_cache(maxsize=8192)
def _measure_in_envelope(envelope: Envelope, flexion: float, lateral: float, axial: float) -> float:
    """Kept: of a skeleton's joints few move from one pose to the next."""
    return _prepare_body(envelope).measure_inside(correct_angles((flexion, lateral, axial)))


@dataclass(frozen=True, eq=False)
class _Body:
    """The surface of an envelope, as a point asks for it: all that is a product with the point in one matrix.

    rows : (k, 3), one below the other: of the triangles (m) the first, second and third share that a point has of the
        corners; across the first, second and third edge, inwards; the normals; of the edges (e) the ways; the starts
    inwards0 : (3, m) where the inside of each edge begins; heights0 : (m,) of the planes
    starts, ways : (e, 3) of the edges; along0, lengths2, far0 : (e,) what of them does not depend on the point
    """

    rows: Array
    inwards0: Array
    heights0: Array
    starts: Array
    ways: Array
    along0: Array
    lengths2: Array
    far0: Array

    def measure_inside(self, point: Array) -> float:
        """Of a point (3,) to the nearest of the triangles: its edges or, over it, its plane; below zero outside.

        In the cone of a triangle a point is a sum of its corners; the shares' sum says how far out it lies.
        """
        m, e = len(self.heights0), len(self.far0)
        products = self.rows @ point
        first, second, third = products[: 3 * m].reshape(3, m)
        cone = int(np.minimum(np.minimum(first, second), third).argmax())
        use = first[cone] + second[cone] + third[cone]
        off = products[7 * m : 7 * m + e] - self.along0
        along = np.clip(off / self.lengths2, 0, 1)
        apart = self.far0 - 2 * products[7 * m + e :] - along * (2 * off - along * self.lengths2)
        # What comes near is measured once more, from the place itself: squares of small distances lost their digits.
        near = np.flatnonzero(apart <= apart.min() + 1e-12)
        feet = point - self.starts[near] - along[near, None] * self.ways[near]
        least = float((feet * feet).sum(axis=1).min())
        over = products[3 * m : 6 * m].reshape(3, m) >= self.inwards0
        heights = np.where(over[0] & over[1] & over[2], products[6 * m : 7 * m] - self.heights0, np.inf)
        distance = float(min(np.sqrt(least), np.abs(heights).min()))
        return distance if use <= 1 else -distance

    def measure_use(self, point: Array) -> float:
        """How much of the way from neutral to the surface a point (3,) takes."""
        shares = (self.rows[: 3 * len(self.heights0)] @ point).reshape(3, -1)
        return float(shares[:, shares.min(axis=0).argmax()].sum())


@dataclass(frozen=True, eq=False)
class _Outline:
    """The same of a joint that turns about two axes, `plane` of the three: a closed line in their plane.

    corners : (m, 2) in order round neutral; wedges : (m, 2, 2) a point's shares of a corner and of the next one
    """

    plane: list[int]
    corners: Array
    edges: Array
    squares: Array
    wedges: Array

    def measure_use(self, point: Array) -> float:
        """How much of the way from neutral to the line a point (3,) takes, seen in the plane."""
        weights = self.wedges @ point[self.plane]
        return float(weights[weights.min(axis=1).argmax()].sum())

    def measure_inside(self, point: Array) -> float:
        """Of a point (3,), seen in the plane, to the nearest place on the line; below zero outside."""
        offsets = point[self.plane] - self.corners
        along = np.clip(np.einsum("mi,mi->m", offsets, self.edges) / self.squares, 0, 1)
        feet = offsets - along[:, None] * self.edges
        apart = float(np.sqrt(np.einsum("mi,mi->m", feet, feet).min()))
        return apart if self.measure_use(point) <= 1 else -apart


def _prepare_outline(envelope: Envelope, held: int) -> _Outline:
    plane = [axis for axis in range(3) if axis != held]
    corners = find_corners(envelope)[list_ring(held)][:, plane]
    edges = np.roll(corners, -1, axis=0) - corners
    wedges = np.linalg.inv(np.stack([corners, np.roll(corners, -1, axis=0)], axis=-1)).astype(np.float64)
    return _Outline(plane, corners, edges, np.maximum(np.einsum("mi,mi->m", edges, edges), 1e-300), wedges)


@lru_cache(maxsize=1024)
def _prepare_body(envelope: Envelope) -> _Body | _Outline:
    held = np.flatnonzero((envelope.scale_rad == 0).all(axis=1))
    if len(held):
        return _prepare_outline(envelope, int(held[0]))
    points, triangles = find_corners(envelope), list_directions().triangles
    corners = points[triangles]
    sides = np.roll(corners, -1, axis=1) - corners
    normals = np.cross(sides[:, 0], sides[:, 1])
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
    inwards = np.swapaxes(np.cross(normals[:, None], sides), 0, 1)
    cones = np.swapaxes(np.linalg.inv(np.swapaxes(corners, 1, 2)), 0, 1)
    pairs = _list_edges()
    starts = points[pairs[:, 0]]
    ways = points[pairs[:, 1]] - starts
    return _Body(
        rows=np.concatenate([cones.reshape(-1, 3), inwards.reshape(-1, 3), normals, ways, starts]).astype(np.float64),
        inwards0=(inwards * np.swapaxes(corners, 0, 1)).sum(axis=2),
        heights0=(normals * corners[:, 0]).sum(axis=1),
        starts=starts,
        ways=ways,
        along0=(starts * ways).sum(axis=1),
        lengths2=np.maximum((ways * ways).sum(axis=1), 1e-300),
        far0=(starts * starts).sum(axis=1),
    )


@cache
def _list_edges() -> NDArray[np.int64]:
    """(768, 2) numbers of the directions that the triangles' edges join, each once."""
    triangles = list_directions().triangles
    edges = np.concatenate([triangles[:, [a, b]] for a, b in ((0, 1), (1, 2), (0, 2))])
    own: NDArray[np.int64] = np.unique(np.sort(edges, axis=1), axis=0)
    return own
