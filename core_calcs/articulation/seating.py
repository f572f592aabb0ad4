"""How well a bone fits between its neighbours, and where it does best, close to where it stands.

Lengths at a joint are shares of s, the size of the smaller of its two bones; areas of s² of the bone that is seated.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from ..spatial.transforms import Array, apply, invert, make_transform
from .bones import Body

EVEN_S = 0.03
"""Two surfaces face each other evenly where their distance differs by no more than this from the joint's own."""
_WIDE = 2.0
"""At first so many times that, so that a bone finds its way."""
_FADES_S = 0.4
"""A joint that is so wide counts for 1/e."""
_WIDEST_S, _GAP_STEP_S = 0.2, 0.01
_REACH_S = 0.25
_FACES = 0.5
"""Cosine between the normal and the way to the other surface."""
_KNOWN = 0.98
"""Share of a grid's band up to which its distances are taken."""
_DEEPEST = 3.0
_MOVES_S, _TURNS_RAD, _STAYS = 0.04, float(np.radians(2)), 0.05
"""What a bone may be off where it stands: moved by so much, or turned, it loses half of _STAYS (s²)."""
_ROUNDS, _WIDE_ROUNDS = 12, 6
_LEAST_POINTS = 5


@dataclass(frozen=True, eq=False)
class Standing:
    """A bone's shape and where it stands: X_WB (4, 4)."""

    name: str
    body: Body
    X_WB: Array


@dataclass(frozen=True)
class Joint:
    """How a bone meets one neighbour.

    close_s2 : area that faces the other at the joint's own width to within half of EVEN_S, in s²
    width_s : that width
    """

    close_s2: float
    width_s: float


@dataclass(frozen=True, eq=False)
class Seat:
    """Where a bone fits best, and how well.

    score : area that faces its neighbours evenly, less that which runs into them, in s²
    joints : by neighbour
    """

    score: float
    X_WB: Array
    joints: Mapping[str, Joint]


@dataclass(frozen=True, eq=False)
class _Meeting:
    """Points of a bone and of one neighbour that may face each other: indices, and the smaller size [m]."""

    other: Standing
    own: NDArray[np.int64]
    theirs: NDArray[np.int64]
    size: float


def find_neighbours(one: Standing, others: Iterable[Standing]) -> tuple[Standing, ...]:
    """Those within reach of a bone where it stands."""
    near = []
    for other in others:
        if other.name == one.name:
            continue
        reach = _REACH_S * min(one.body.size, other.body.size)
        own = _find_near(one, other, reach)
        if not len(own):
            continue
        points = apply(invert(other.X_WB) @ one.X_WB, one.body.points[own])
        if np.min(other.body.tree.query(points)[0]) < reach:
            near.append(other)
    return tuple(near)


def seat_bone(one: Standing, neighbours: Sequence[Standing]) -> Seat:
    """Move and turn a bone a little until it fits best between its neighbours, which stay where they are.

    Each joint has one width, the one at which most of the two surfaces face each other; the points that face each other
    at about that width are brought to it by least squares, round by round.
    """
    meetings = []
    for other in neighbours:
        size = min(one.body.size, other.body.size)
        reach = _REACH_S * size
        meetings.append(_Meeting(other, _find_near(one, other, reach), _find_near(other, one, reach), size))
    X, gaps = one.X_WB, [0.0] * len(meetings)
    for number in range(_ROUNDS + 1):
        distances = [_measure(one.body, X, meeting) for meeting in meetings]
        if number % 3 == 0:
            gaps = [_find_gap(d, m.size) for d, m in zip(distances, meetings, strict=True)]
        if number < _ROUNDS:
            even = EVEN_S * (_WIDE if number < _WIDE_ROUNDS else 1.0)
            X = _step(one, X, meetings, distances, gaps, even)
    joints = {
        m.other.name: Joint(float(_weigh(d, gap, m.size, EVEN_S / 2).sum()) / one.body.size**2, gap / m.size)
        for m, d, gap in zip(meetings, distances, gaps, strict=True)
    }
    return Seat(_score(one, X, meetings, distances, gaps), X, joints)


@dataclass(frozen=True, eq=False)
class _Distances:
    """Of all points of a meeting: signed distance, how squarely they face, area, and how the distance grows with turns
    and moves of the bone about its centre in the world (n, 6)."""

    away_m: Array
    faces: Array
    area_m2: Array
    rows: Array


def _measure(body: Body, X: Array, meeting: _Meeting) -> _Distances:
    other = meeting.other
    away, faces, rows = [], [], []
    for mine in (True, False):
        here, X_here, index = (body, X, meeting.own) if mine else (other.body, other.X_WB, meeting.theirs)
        there, X_there = (other.body, other.X_WB) if mine else (body, X)
        X_TH = invert(X_there) @ X_here
        points = apply(X_TH, here.points[index])
        distance, slope = there.grid.distances(points), there.grid.gradients(points)
        known = np.abs(distance) < _KNOWN * there.grid.band
        squarely = -np.einsum("ij,ij->i", slope, here.normals[index] @ X_TH[:3, :3].T)
        outwards = slope @ X_there[:3, :3].T
        arm = apply(X_here, here.points[index]) - X[:3, 3]
        rows.append((1 if mine else -1) * np.hstack([np.cross(arm, outwards), outwards]))
        away.append(distance)
        faces.append(np.where(known & (squarely > _FACES), squarely, 0.0))
    areas = np.repeat([body.area_m2 / 2, other.body.area_m2 / 2], [len(meeting.own), len(meeting.theirs)])
    return _Distances(np.concatenate(away), np.concatenate(faces), areas, np.concatenate(rows))


def _find_gap(d: _Distances, size: float) -> float:
    """How wide the joint is: where most area faces the other, narrow ones rather than wide ones [m]."""
    near = (d.faces > 0) & (d.away_m < _REACH_S * size) & (d.away_m > -_REACH_S / 5 * size)
    if near.sum() < _LEAST_POINTS:
        return 0.0
    widths = np.arange(0, _WIDEST_S, _GAP_STEP_S) * size
    apart = (d.away_m[near, None] - widths) / (EVEN_S * size)
    areas = (d.area_m2 * d.faces)[near] @ np.exp(-(apart**2) / 2) * np.exp(-widths / (_FADES_S * size))
    return float(widths[int(np.argmax(areas))])


def _weigh(d: _Distances, gap: float, size: float, even: float) -> Array:
    """Area of each point as far as it faces the other at the joint's width [m2]."""
    weights: Array = d.area_m2 * d.faces * np.exp(-(((d.away_m - gap) / (even * size)) ** 2) / 2)
    return weights


def _fade(gap: float, size: float) -> float:
    """What a joint counts for."""
    return float(np.exp(-gap / (_FADES_S * size)))


def _step(
    one: Standing,
    X: Array,
    meetings: Sequence[_Meeting],
    distances: Sequence[_Distances],
    gaps: Sequence[float],
    even: float,
) -> Array:
    """One round of least squares, in turns (times s) and moves of the bone about its centre."""
    s = one.body.size
    resists, pushes = np.zeros((6, 6)), np.zeros(6)
    for meeting, d, gap in zip(meetings, distances, gaps, strict=True):
        weights = _weigh(d, gap, meeting.size, even)
        inside = (d.away_m < 0) & (d.faces > 0)
        weights[inside] = np.maximum(weights, 0.5 * d.area_m2)[inside]
        weights *= _fade(gap, meeting.size) / (EVEN_S * meeting.size) ** 2
        rows = d.rows / np.repeat([s, 1.0], 3)
        resists += rows.T @ (rows * weights[:, None])
        pushes += rows.T @ (weights * (gap - d.away_m))
    turned, moved = _find_move(one.X_WB, X)
    stays = _STAYS * s**2 / np.repeat([(_TURNS_RAD * s) ** 2, (_MOVES_S * s) ** 2], 3)
    step = np.linalg.solve(resists + np.diag(stays), pushes - stays * np.concatenate([turned * s, moved]))
    R = Rotation.from_rotvec(step[:3] / s).as_matrix() @ X[:3, :3]
    return make_transform(R, X[:3, 3] + step[3:])


def _score(
    one: Standing,
    X: Array,
    meetings: Sequence[_Meeting],
    distances: Sequence[_Distances],
    gaps: Sequence[float],
) -> float:
    s, area = one.body.size, 0.0
    for meeting, d, gap in zip(meetings, distances, gaps, strict=True):
        even = EVEN_S * meeting.size
        deep = np.clip(-d.away_m / even - 1, 0, _DEEPEST)
        even_m2 = _fade(gap, meeting.size) * _weigh(d, gap, meeting.size, EVEN_S).sum()
        area += float(even_m2 - (d.area_m2 * deep).sum())
    turned, moved = _find_move(one.X_WB, X)
    strained = (turned @ turned) / _TURNS_RAD**2 + (moved @ moved) / (_MOVES_S * s) ** 2
    return area / s**2 - _STAYS / 2 * float(strained)


def _find_move(X_from: Array, X_to: Array) -> tuple[Array, Array]:
    """Rotation vector [rad] and move [m] of a bone's centre."""
    turned: Array = Rotation.from_matrix(X_to[:3, :3] @ X_from[:3, :3].T).as_rotvec()
    return turned, X_to[:3, 3] - X_from[:3, 3]


def _find_near(one: Standing, other: Standing, reach: float) -> NDArray[np.int64]:
    """Points of a bone within reach of the box about another."""
    points = apply(invert(other.X_WB) @ one.X_WB, one.body.points)
    lower, upper = other.body.bounds
    return np.flatnonzero(((points > lower - reach) & (points < upper + reach)).all(axis=1))
