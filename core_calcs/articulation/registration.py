"""One bone's surface laid upon another's as closely as it will go, without reflection."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from ..spatial.transforms import Array, make_transform
from .bones import POINTS, Body

HALVES = np.array([np.diag(turn) for turn in ((1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1))], float)
"""The half turns that take principal axes to themselves."""
_FEW = np.arange(0, POINTS, 18)
_MORE = np.arange(0, POINTS, 6)
_ROUGH, _FINE = 10, 15
"""Rounds with few points, and with more."""
_LONGEST_RAD = 0.3
_STIFF = 1e-6
"""Holds a turn or slide that nothing resists, as a share of the mean resistance."""


@dataclass(frozen=True, eq=False)
class Way:
    """A bone laid upon another one.

    off_s : root mean square distance of the two surfaces, in sizes of the larger
    X_OB : (4, 4) from the bone's frame to the other's
    """

    off_s: float
    X_OB: Array


def lay_upon(body: Body, other: Body, starts: Sequence[Array] | None = None) -> tuple[Way, ...]:
    """The ways that a bone lies closest upon another, the closest first: one from every start.

    Points of each go to the tangent planes at the nearest points of the other, by least squares (Chen & Medioni, Image
    and Vision Computing 10 (1992) 145-155).

    Parameters
    ----------
    starts : rotations (3, 3) to begin with; those that lay the principal axes upon each other where None
    """
    if starts is None:
        starts = [other.axes @ half @ body.axes.T for half in HALVES]
    ways = []
    for R in starts:
        X = make_transform(R, np.zeros(3))
        for number in range(_ROUGH + _FINE):
            X = _step(X, *_pair_up(body, other, X, _FEW if number < _ROUGH else _MORE))
        here, there, normals = _pair_up(body, other, X, _MORE)
        off = np.sqrt((np.einsum("ij,ij->i", there - here, normals) ** 2).mean())
        ways.append(Way(float(off) / max(body.size, other.size), X))
    return tuple(sorted(ways, key=lambda way: way.off_s))


def _pair_up(body: Body, other: Body, X: Array, few: NDArray[np.int64]) -> tuple[Array, Array, Array]:
    """Points of the body, those of the other nearest to them, and normals, both ways, in the other's frame."""
    R, t = X[:3, :3], X[:3, 3]
    moved = body.points[few] @ R.T + t
    near = other.tree.query(moved)[1]
    back = body.tree.query((other.points[few] - t) @ R)[1]
    here = np.concatenate([moved, body.points[back] @ R.T + t])
    there = np.concatenate([other.points[near], other.points[few]])
    return here, there, np.concatenate([other.normals[near], body.normals[back] @ R.T])


def _step(X: Array, here: Array, there: Array, normals: Array) -> Array:
    rows = np.hstack([np.cross(here, normals), normals])
    away = np.einsum("ij,ij->i", there - here, normals)
    resists = rows.T @ rows
    turning, sliding = np.trace(resists[:3, :3]), np.trace(resists[3:, 3:])
    move = np.linalg.solve(resists + np.diag([_STIFF * turning] * 3 + [_STIFF * sliding] * 3), rows.T @ away)
    move *= min(1.0, _LONGEST_RAD / max(float(np.linalg.norm(move[:3])), 1e-300))
    D = make_transform(Rotation.from_rotvec(move[:3]).as_matrix(), move[3:])
    stepped: Array = D @ X
    return stepped
