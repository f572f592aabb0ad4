"""Directions all round, by which envelopes of joints are told: the corners of a fine octahedron blown up to a ball."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array

_LEVELS = 3


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
