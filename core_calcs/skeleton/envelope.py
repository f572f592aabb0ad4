"""The coupled range of a joint: which attitudes it may take, and how far inside them a pose is.

Attitudes are points of cosine-corrected joint space: (flexion · cos lateral, lateral, axial) [rad]. With the second
rotation's cosine the volume of a set of points is that of the set of rotations, whatever the joint's axes, and not one
that grows where flexion and axial turn nearly coincide (Manafzadeh & Gatesy, J. Exp. Biol. 2020, 10.1242/jeb.227108).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..spatial.transforms import Array
from .directions import list_directions, list_ring
from .envelope_bodies import Body, make_body, measure_in_bodies, measure_uses
from .joint import AxisLimit, Envelope

HELD_RAD = 1e-4
"""Angles this little (0.006°) off a held axis are on it: what the constraints of a single-precision rig leave."""
_LEAST_SHARE = 1e-3
"""Where a joint is stopped at once its envelope is this thin, so that it has an inside and an outside."""


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
    points, body = correct_angles(np.asarray(angles_rad, float).reshape(-1, 3)), _prepare_body(envelope)
    if isinstance(body, Body):
        return measure_uses([body], points) <= 1
    return np.array([body.measure_use(point) <= 1 for point in points], bool)


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
    inside: list[float] = _measure_in_boxes(low_rad, high_rad, angles_rad).tolist()
    coupled = [(i, own) for i, own in enumerate(envelopes) if own is not None]
    angles = [(own[0], own[1], own[2]) for own in angles_rad[[i for i, _ in coupled]].tolist()]
    for (i, _), found in zip(coupled, _measure_in_envelopes([own for _, own in coupled], angles), strict=True):
        inside[i] = min(inside[i], found)
    return inside


def _measure_in_boxes(low: Array, high: Array, angles: Array) -> Array:
    room = np.minimum(angles - low, high - angles)
    room[(low == high) & (room >= -HELD_RAD)] = np.inf
    over = np.minimum(room, 0)
    least = room.min(axis=1)
    inside: Array = np.where(over.any(axis=1), -np.linalg.norm(over, axis=1), np.where(np.isfinite(least), least, 0.0))
    return inside


_Asked = tuple[Envelope, float, float, float]
_found: dict[_Asked, float] = {}
_MOST = 8192
"""So much that was found is kept: of a skeleton's joints few move from one pose to the next."""


def _measure_in_envelopes(envelopes: Sequence[Envelope], angles: Sequence[tuple[float, float, float]]) -> list[float]:
    """Of joints at angles (n, 3), all that were not asked for of late at once."""
    asked = [(own, *turn) for own, turn in zip(envelopes, angles, strict=True)]
    # Taken together first: what another thread drops meanwhile is not missed.
    found = {key: inside for key in asked if (inside := _found.get(key)) is not None}
    lacking = [key for key in dict.fromkeys(asked) if key not in found]
    if not lacking:
        return [found[key] for key in asked]
    bodies, points = [_prepare_body(key[0]) for key in lacking], correct_angles([key[1:] for key in lacking])
    new = {
        key: body.measure_inside(point)
        for key, body, point in zip(lacking, bodies, points, strict=True)
        if isinstance(body, _Outline)
    }
    rows = [i for i, body in enumerate(bodies) if isinstance(body, Body)]
    if rows:
        own = [body for body in bodies if isinstance(body, Body)]
        new.update(zip([lacking[i] for i in rows], measure_in_bodies(own, points[rows]), strict=True))
    if len(_found) + len(new) > _MOST:
        _found.clear()
    _found.update(new)
    found.update(new)
    return [found[key] for key in asked]


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
def _prepare_body(envelope: Envelope) -> Body | _Outline:
    held = np.flatnonzero((envelope.scale_rad == 0).all(axis=1))
    if len(held):
        return _prepare_outline(envelope, int(held[0]))
    return make_body(find_corners(envelope), envelope.scale_rad, np.maximum(envelope.shares, _LEAST_SHARE))
