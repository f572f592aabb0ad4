"""Pits of a surface: what a ball rolled over it from outside cannot touch, and fragments within it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..spatial.transforms import Array
from .mass_properties import measure_polyhedron
from .nearest import NearestPoints
from .ray_votes import lie_inside
from .samples import sample_surface
from .surface import Surface

FEW_PITS = 1e-4
"""Where no more than this share of the area is out of reach there are no pits to speak of."""

CLEARANCE = 0.9
"""Share of its radius that a ball on the surface is clear of everything else: facets stand off from it by some."""

_MOST_SAMPLES = 4_000_000


@dataclass(frozen=True, eq=False)
class OpenSkin:
    """A surface, its pits passed over: triangles that a ball can touch, and points (n, 3) of balls that lie on pits."""

    surface: Surface
    bridges: Array


def find_open_skin(surface: Surface, radius_m: float) -> OpenSkin | None:
    """What a ball touches that is rolled over a closed surface from outside; None where that is all of it.

    Tried in the middle of every triangle and at points between, twice as close where there are pits. A ball stands
    outside where the surface does not go round its middle; hollows inside that are wider than it are taken for wanted.
    """
    if not _find_areas(surface).any():
        return None
    for spacing in (2 * radius_m, radius_m):
        points, centres, triangles = _place_balls(surface, radius_m, spacing)
        clear = _are_clear(surface, centres, radius_m)
        touched = np.zeros(len(surface.faces), bool)
        touched[triangles[clear]] = True
        areas = _find_areas(surface)
        if areas[~touched].sum() <= FEW_PITS * areas.sum() or not touched.any():
            return None
    under = points[~touched[triangles]]
    nearest = centres[clear][cKDTree(centres[clear]).query(under)[1]]
    away = under - nearest
    far = np.maximum(np.linalg.norm(away, axis=1), 1e-300)[:, None]
    return OpenSkin(Surface(surface.vertices, surface.faces[touched]), nearest + radius_m * away / far)


def _find_areas(surface: Surface) -> Array:
    a, b, c = (surface.vertices[surface.faces[:, k]] for k in range(3))
    areas: Array = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    return areas


def _place_balls(surface: Surface, radius_m: float, spacing_m: float) -> tuple[Array, Array, NDArray[np.int64]]:
    """Points (n, 3) on the surface, the middles of the balls that lie on them outside, and their triangles (n,)."""
    a, b, c = (surface.vertices[surface.faces[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    outwards = -1.0 if measure_polyhedron(surface).volume_m3 < 0 else 1.0
    spread = sample_surface(surface, spacing_m, at_least=1, at_most=_MOST_SAMPLES)
    triangles = np.concatenate([spread.triangles, np.arange(len(surface.faces))])
    normals = cross[triangles] / np.maximum(np.linalg.norm(cross, axis=1)[triangles], 1e-300)[:, None]
    points = np.concatenate([spread.points, (a + b + c) / 3])
    return points, points + outwards * radius_m * normals, triangles


def _are_clear(surface: Surface, middles: Array, radius_m: float) -> NDArray[np.bool_]:
    """Whether balls about these middles (n, 3) are outside and clear of the surface."""
    away = np.linalg.norm(middles - NearestPoints(surface, radius_m).find(middles), axis=1)
    clear = np.flatnonzero(away >= CLEARANCE * radius_m)
    # The middle of the cell of its own size is so near that no surface is between them.
    origin = middles.min(axis=0) - radius_m
    cells = np.floor((middles[clear] - origin) / radius_m).astype(np.int64)
    outside = ~lie_inside(surface, origin, radius_m, cells, closed=True)
    found = np.zeros(len(middles), bool)
    found[clear[outside]] = True
    return found
