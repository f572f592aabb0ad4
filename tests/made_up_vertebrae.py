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

from core_calcs.mesh.proxies import cluster_vertices
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
    shape: Shape,
    roughness: float = 0.0,
    broken: bool = False,
    deform: Deform | None = None,
    cell: float = 0.03,
    triangles: int | None = None,
) -> tuple[Surface, Surface]:
    """The headward and the tailward vertebra of a pair.

    roughness : height of the surfaces' waves; broken : the headward element lacks its left postzygapophysis
    deform : moves vertices (n, 3), as the ground does with a buried bone
    cell : of the grid that they are made on; triangles : so many at most, the facets' rims kept; None: all there are
    """
    rng = np.random.default_rng([int(1000 * shape.ball), int(shape.arc_deg)])
    made = []
    for solid, at, facet, looks in (
        (_headward(shape, broken), 0.75, _TOP + GAP, -1),
        (_tailward(shape), -0.75, _TOP, 1),
    ):
        uneven = roughen(solid, 1.5, roughness, rng) if roughness else solid
        vertices, faces = make_mesh(uneven, (at, 0, 0.3), 1.4, cell)
        expected = facet - looks * (uneven(vertices) - solid(vertices))
        vertices, kinds = _sharpen_arcs(vertices, faces, expected, shape.arc_deg / 2, cell)
        surface = (
            Surface(vertices, faces) if triangles is None else _coarsen(Surface(vertices, faces), kinds, triangles)
        )
        made.append(surface if deform is None else Surface(deform(surface.vertices), surface.faces))
    return made[0], made[1]


def _sharpen_arcs(vertices: Array, faces: Array, expected: Array, half_deg: float, cell: float) -> tuple[Array, Array]:
    """The vertices (n, 3) with the facets' rims where they were made, and of what kind they are (n,).

    Kinds: 0 elsewhere, 1 within a facet, 2 and 3 on its ends and its sides, 4 on its corners.

    On a grid of cubes an edge is cut off somewhere within its cell, so that a facet ends up to a cell short: a degree
    or two. The outermost of a facet's vertices are moved on to its edges, along the facet.

    expected : (n,) distance from the joint's axis of the facets' surface there; half_deg : half of their arc
    """
    away, turned = np.hypot(vertices[:, 0], vertices[:, 2]), np.degrees(np.arctan2(vertices[:, 0], vertices[:, 2]))
    beside = np.abs(vertices[:, 1])
    off = np.abs(away - expected)
    within = (np.radians(np.abs(turned) - half_deg) * away < cell / 2) & (beside > _INNER - cell / 2)
    within &= beside < _OUTER + cell / 2
    on = within & (off < 3e-3) & (np.abs(turned) < half_deg + 0.1) & (np.abs(beside - (_INNER + _OUTER) / 2) < 0.141)
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edges = np.concatenate([edges, edges[:, ::-1]])
    rim = np.zeros(len(vertices), bool)
    rim[edges[on[edges[:, 0]] & ~on[edges[:, 1]], 0]] = True
    # Where a cube holds an edge, what lies across it is on neither of the two faces.
    beyond = edges[on[edges[:, 0]] & ~on[edges[:, 1]], 1]
    rim[beyond[within[beyond] & (off[beyond] < cell / 2)]] = True
    away = np.where(rim, expected, away)
    ends = rim & (np.radians(half_deg - np.abs(turned)) * away < 1.5 * cell)
    turned[ends] = np.sign(turned[ends]) * half_deg
    sides = rim & (np.minimum(np.abs(beside - _INNER), np.abs(beside - _OUTER)) < 1.5 * cell)
    beside[sides] = np.where(beside < (_INNER + _OUTER) / 2, _INNER, _OUTER)[sides]
    moved = vertices.copy()
    moved[rim, 0], moved[rim, 2] = (away * np.sin(np.radians(turned)))[rim], (away * np.cos(np.radians(turned)))[rim]
    moved[rim, 1] = (np.sign(vertices[:, 1]) * beside)[rim]
    kinds = np.where(on | rim, 1, 0)
    kinds[ends], kinds[sides], kinds[ends & sides] = 2, 3, 4
    return moved, kinds


def _coarsen(surface: Surface, kinds: Array, triangles: int) -> Surface:
    """No more triangles than asked for: the vertices of one kind in a cell of a cubic grid become one."""
    low, high = 0.01, 0.5
    for _ in range(12):
        cell = (low + high) / 2
        apart = np.outer(kinds, [100 * cell, 0, 0])  # so that no cell holds two kinds
        found = cluster_vertices(Surface(surface.vertices + apart, surface.faces), cell)
        low, high = (cell, high) if len(found.faces) > triangles else (low, cell)
    low_x, step = surface.vertices[:, 0].min(), 100 * cell
    kind = np.floor((found.vertices[:, 0] - low_x) / step)
    return Surface(found.vertices - np.outer(kind * step, [1, 0, 0]), found.faces)


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
