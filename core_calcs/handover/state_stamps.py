"""The sign of a state in the corner of a picture: a shape of its own for each, in its colour, with a dark rim."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..studies.assessment import State
from ..studies.pose_pictures import LINE, Pixels
from .state_marks import STATE_MARKS

SIZE_SHARE, AWAY_SHARE = 0.19, 0.03
"""Of the picture's width: how large the sign is, how far from the upper left corner."""

RIM = 0.16
"""Width of the rim, where the sign is 2 wide."""

NOT_KNOWN = "#C8C8C8"
"""Lighter than on paper: its dark rim would swallow it."""

Floats = NDArray[np.float64]


def stamp_state(picture: Pixels, state: State) -> Pixels:
    """The picture with the state's sign in its upper left corner."""
    side = max(8, round(SIZE_SHARE * picture.shape[1]))
    away = round(AWAY_SHARE * picture.shape[1])
    at = (np.arange(side) + 0.5) / side * 2.6 - 1.3
    x, y = np.meshgrid(at, -at)
    far = _SHAPES[state](x, y)
    soft = 2.6 / side
    sign, whole = (np.clip(0.5 - (far - out) / soft, 0, 1)[..., None] for out in (0.0, RIM))
    mark = NOT_KNOWN if state == "not known" else STATE_MARKS[state].colour
    own = np.array([int(mark[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    colour = LINE + (own - LINE) * sign
    stamped = picture.copy()
    corner = stamped[away : away + side, away : away + side]
    under = corner[..., 3:] * (1 - whole)
    opacity = whole + under
    corner[..., :3] = (colour * whole + corner[..., :3] * under) / np.where(opacity > 0, opacity, 1)
    corner[..., 3:] = opacity
    return stamped


def _disc(x: Floats, y: Floats) -> Floats:
    far: Floats = np.hypot(x, y) - 0.92
    return far


def _triangle(x: Floats, y: Floats) -> Floats:
    slope = np.array([2.0, 1.0]) / np.sqrt(5.0)
    far: Floats = np.maximum(np.abs(x) * slope[0] + (y - 0.95) * slope[1], -y - 0.85)
    return far


def _cross(x: Floats, y: Floats) -> Floats:
    strokes = [(-0.72, -0.72), (0.72, 0.72)], [(-0.72, 0.72), (0.72, -0.72)]
    far: Floats = np.minimum(*(_line(x, y, stroke) for stroke in strokes)) - 0.26
    return far


def _question(x: Floats, y: Floats) -> Floats:
    turn = np.radians(np.linspace(175, -60, 12))
    bow = [*zip(0.46 * np.cos(turn), 0.48 + 0.46 * np.sin(turn), strict=True), (0.0, -0.15), (0.0, -0.3)]
    far: Floats = np.minimum(_line(x, y, bow) - 0.19, np.hypot(x, y + 0.86) - 0.22)
    return far


def _line(x: Floats, y: Floats, points: list[tuple[float, float]]) -> Floats:
    """How far from a line through points."""
    nearest = np.full(x.shape, np.inf)
    for (ax, ay), (bx, by) in pairwise(points):
        along = ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / ((bx - ax) ** 2 + (by - ay) ** 2)
        share = np.clip(along, 0, 1)
        nearest = np.minimum(nearest, np.hypot(x - ax - share * (bx - ax), y - ay - share * (by - ay)))
    return nearest


_SHAPES: dict[State, Callable[[Floats, Floats], Floats]] = {
    "holds": _disc,
    "close": _triangle,
    "fails": _cross,
    "not known": _question,
}
