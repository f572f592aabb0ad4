"""An element seated between its neighbours: moved in the column's middle plane until it meets them best.

What is sought is the most surface that faces a neighbour closely, less what lies inside one. It goes by no facet, so
that an element that is turned the wrong way round is seated as well as that lets it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array, apply, make_transform
from .column import ColumnAxes
from .partner import Partner

_OPPOSED = 0.7
_CLOSE_S, _FAR_S = 0.05, 0.20
"""Surfaces that face each other count whole up to the one gap, less and less up to the other (shares of s)."""
_INSIDE_S, _COSTS = 0.03, 4.0
"""Surface farther inside a neighbour than the one costs its area by so much."""
_STEP_S, _STEP_RAD, _FINEST = 0.08, float(np.radians(5)), 4
"""First steps of the search, along the column and across it, and of its turn about the animal's left; the last ones are
finer by so much."""
_THINNED, _MOVED = 4, 2
"""Every fourth sample is enough, and every second of these of the element that is moved."""
_At = tuple[int, int, int]
"""Where the search is, in the finest steps: along the column, to the back, turned about its left."""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Samples of an element, thinned.

    points, normals : (n, 3); area_m2 : that one stands for
    """

    points: Array
    normals: Array
    area_m2: float
    tree: cKDTree


def thin_out(element: Partner, first: int = 0) -> Cloud:
    """Every few samples of an element, from the first of so many on, with their tree."""
    samples = element.samples
    points, normals = samples.points[first::_THINNED], samples.normals[first::_THINNED]
    return Cloud(points, normals, _THINNED * samples.area_m2, cKDTree(points))


def move_cloud(cloud: Cloud, X: Array) -> Cloud:
    """The same samples, moved by X (4, 4)."""
    points = apply(X, cloud.points)
    return Cloud(points, cloud.normals @ X[:3, :3].T, cloud.area_m2, cKDTree(points))


@dataclass(frozen=True, eq=False)
class Seat:
    """How an element is seated.

    X : (4, 4) motion of the world that takes it there from where it stands
    meets_m2 : surface that faces its neighbours closely, less what lies inside them and what that costs
    """

    X: Array
    meets_m2: float


def seat(
    element: Cloud, size: float, X: Array, about: Array, neighbours: Sequence[tuple[Cloud, float]], axes: ColumnAxes
) -> Seat:
    """Seat an element that was moved by X (4, 4), in small steps along and across the column and about its left.

    Parameters
    ----------
    size : of the element [m]
    about : (3,) the point that it turns about, where X has put it
    neighbours : each with its size; two, or one at the column's end
    """
    points, normals = apply(X, element.points[::_MOVED]), element.normals[::_MOVED] @ X[:3, :3].T
    rated: dict[_At, float] = {}

    def rate(at: _At) -> float:
        if at not in rated:
            step = _move(at, size, about, axes)
            there, looks = apply(step, points), normals @ step[:3, :3].T
            rated[at] = sum(
                _measure_meeting(there, looks, _MOVED * element.area_m2, min(size, other), cloud)
                for cloud, other in neighbours
            )
        return rated[at]

    best, step = (0, 0, 0), _FINEST
    while step >= 1:
        better = max(_list_around(best, step), key=rate)
        if rate(better) > rate(best):
            best = better
        else:
            step //= 2
    return Seat(_move(best, size, about, axes) @ X, rate(best))


def _list_around(at: _At, step: int) -> list[_At]:
    along, up, turn = at
    return [
        *((along + way * step, up, turn) for way in (1, -1)),
        *((along, up + way * step, turn) for way in (1, -1)),
        *((along, up, turn + way * step) for way in (1, -1)),
    ]


def _move(at: _At, size: float, about: Array, axes: ColumnAxes) -> Array:
    """(4, 4) the motion of so many of the finest steps along the column, to the back, and about its left."""
    along, up, turn = (step / _FINEST for step in at)
    R = _turn_about(axes.left, turn * _STEP_RAD)
    return make_transform(R, about - R @ about + _STEP_S * size * (along * axes.head + up * axes.back))


def _turn_about(axis: Array, angle: float) -> Array:
    """(3, 3) the turn about a unit axis (3,)."""
    K = np.cross(np.eye(3), axis)
    R: Array = np.eye(3) - np.sin(angle) * K + (1 - np.cos(angle)) * K @ K
    return R


def _measure_meeting(points: Array, normals: Array, area_m2: float, size: float, other: Cloud) -> float:
    """Surface of an element that faces another closely, less what lies inside it."""
    reach = _FAR_S * size
    low, high = other.points.min(axis=0) - reach, other.points.max(axis=0) + reach
    near = np.flatnonzero(((points >= low) & (points <= high)).all(axis=1))
    found = other.tree.query(points[near], distance_upper_bound=reach)
    distance, index = np.asarray(found[0]), np.asarray(found[1])
    met = np.isfinite(distance)
    near, index = near[met], index[met]
    offset = other.points[index] - points[near]
    outwards = np.einsum("ij,ij->i", points[near] - other.points[index], other.normals[index])
    opposed = np.einsum("ij,ij->i", normals[near], other.normals[index]) < -_OPPOSED
    gap = np.einsum("ij,ij->i", offset, normals[near])
    weight = np.clip((_FAR_S * size - gap) / ((_FAR_S - _CLOSE_S) * size), 0, 1)
    inside = outwards < -_INSIDE_S * size
    return area_m2 * float(weight[opposed & ~inside].sum() - _COSTS * inside.sum())
