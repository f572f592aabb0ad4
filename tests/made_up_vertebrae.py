"""Pairs of made-up vertebrae whose joint is known: flat ends or ball and cotyle, zygapophyses on arcs about its centre.

x runs to the head, z to the back; the joint's centre is the origin and its flexion axis y. The zygapophyses are pieces
of two cylinders about that axis: turned by flexion they slide along each other, and half of an arc has slid off where
the joint has turned by half the arc. No unit is meant.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "demo_blend"))
from strider.solids import ball, block, cut, join, keep, make_mesh, rod, roughen

from core_calcs.mesh.surface import Surface

Array = np.ndarray
DISC, GAP = 0.14, 0.05
"""Between flat ends; between zygapophyses, and between ball and cotyle."""
_WALL, _DRUM = 0.12, 0.46
_TOP, _OUTER, _INNER = 0.75, 0.42, 0.14


@dataclass(frozen=True)
class Shape:
    """How a pair is made: the ball's radius (0: flat ends) and the zygapophyses' arc."""

    ball: float
    arc_deg: float


Deform = Callable[[Array], Array]


def make_vertebrae(
    shape: Shape, roughness: float = 0.0, broken: bool = False, deform: Deform | None = None, cell: float = 0.03
) -> tuple[Surface, Surface]:
    """The headward and the tailward vertebra of a pair.

    roughness : height of the surfaces' waves; broken : the headward element lacks its left postzygapophysis
    deform : moves vertices (n, 3), as the ground does with a buried bone
    """
    rng = np.random.default_rng([int(1000 * shape.ball), int(shape.arc_deg)])
    made = []
    for solid, at in ((_headward(shape, broken), 0.75), (_tailward(shape), -0.75)):
        uneven = roughen(solid, 1.5, roughness, rng) if roughness else solid
        vertices, faces = make_mesh(uneven, (at, 0, 0.3), 1.4, cell)
        made.append(Surface(vertices if deform is None else deform(vertices), faces))
    return made[0], made[1]


def _headward(shape: Shape, broken: bool) -> Callable[[Array], Array]:
    """A cotyle or a flat end that looks to the tail, and postzygapophyses above their partners."""
    start = 0.1 if shape.ball else DISC / 2
    centrum = _centrum(start, 1.4)
    if shape.ball:
        centrum = cut(centrum, ball((0, 0, 0), shape.ball + GAP))
    half = shape.arc_deg / 2
    inner = _TOP + GAP
    parts = [centrum, block((1.0, 0, 0.55), (0.3, _OUTER, 0.2))]
    for side in (1, -1) if not broken else (-1,):
        parts.append(_arc(inner, inner + _WALL, 90 - half, 90 + half, side))
        # The bridge that carries it leaves a step round the facet.
        parts.append(_arc(inner + 0.05, inner + 0.05 + _WALL, 25, 90 + half, side))
    return join(*parts)


def _tailward(shape: Shape) -> Callable[[Array], Array]:
    """A ball or a flat end that looks to the head, and prezygapophyses on pillars."""
    end = -0.3 if shape.ball else -DISC / 2
    centrum = _centrum(-1.4, end)
    parts = [centrum]
    if shape.ball:
        parts += [ball((0, 0, 0), shape.ball), rod((0, 0, 0), (-0.5, 0, 0), 0.75 * shape.ball)]
    half = shape.arc_deg / 2
    reach = 0.5 * _TOP * np.sin(np.radians(half))
    for side in (1, -1):
        parts.append(_arc(_TOP - _WALL, _TOP, 90 - half, 90 + half, side))
        middle = side * (_INNER + _OUTER) / 2
        parts.append(block((-0.45, middle, 0.5), (0.12, (_OUTER - _INNER) / 2, 0.12)))
        parts.append(rod((-0.45, middle, 0.52), (-reach, middle, _TOP - _WALL), 0.08))
    return join(*parts)


def _centrum(tail: float, head: float) -> Callable[[Array], Array]:
    """A drum along x with rounded rims."""
    rounding = 0.06

    def distance(p: Array) -> Array:
        away = np.hypot(p[:, 1], p[:, 2]) - _DRUM + rounding
        along = np.abs(p[:, 0] - (tail + head) / 2) - (head - tail) / 2 + rounding
        beyond = np.hypot(np.maximum(away, 0), np.maximum(along, 0))
        return beyond + np.minimum(np.maximum(away, along), 0) - rounding

    return distance


def _arc(low: float, high: float, start_deg: float, end_deg: float, side: int) -> Callable[[Array], Array]:
    """A piece of a tube about y from the x axis towards z, on one side."""
    middle = np.radians((start_deg + end_deg) / 2)
    half = np.radians(end_deg - start_deg) / 2
    centre = side * (_INNER + _OUTER) / 2

    def tube(p: Array) -> Array:
        away = np.hypot(p[:, 0], p[:, 2])
        return np.abs(away - (low + high) / 2) - (high - low) / 2

    def wedge(p: Array) -> Array:
        turned = np.abs(np.angle(np.exp(1j * (np.arctan2(p[:, 2], p[:, 0]) - middle))))
        return (turned - half) * np.hypot(p[:, 0], p[:, 2])

    return keep(tube, wedge, lambda p: np.abs(p[:, 1] - centre) - (_OUTER - _INNER) / 2)
