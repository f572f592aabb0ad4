"""The void of a hollow casting: the points inside a surface that lie deeper than the wall.

Found in an octree: a cell whose middle is farther from the void's skin than from its own corners is whole in it or out
of it; the others are parted, down to a leaf that is cut by the plane across the nearest way to the surface. The error
falls with the square of the leaf's side, so that two sizes give a better figure than either (L. F. Richardson, Phil.
Trans. R. Soc. A 226 (1927) 299-361). Parts thinner than two walls hold no such point: they stay solid.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array
from .bodies import merge_vertices, split_bodies
from .boundary import bound_shell_error, close_holes
from .cut_cubes import cut_cubes
from .mass_properties import inertia_of, measure_polyhedron
from .nearest import NearestPoints
from .overlaps import bound_overlap
from .pits import OpenSkin, find_open_skin
from .ray_votes import lie_inside
from .solid import Void
from .surface import Surface

SAMPLES_A_WALL = 2
"""Points a wall's thickness that the surface is sampled with: three of them change the metal by 0.01 %."""

LEAF_SHARE, SMALL_LEAF_SHARE = 1 / 2, 1 / 3
"""Side of the smaller leaves in walls; the second where the void is less than `SMALL_VOID` of the solid."""

SMALL_VOID = 0.2

FEW_LEAVES = 0.2
"""Where the error is more than this share of the void it is of a few leaves: nothing is extrapolated."""

_HALF_DIAGONAL = float(np.sqrt(3) / 2)
_ASIDE = np.array([0.317, 0.211, 0.419])
"""The grid is moved aside by these shares of a leaf, that no face of round size lies between two leaves."""
_MOST_CELLS = 1 << 18
"""So many cells are looked at together: what is in memory does not grow with the element."""
_CHILDREN = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)], np.int64)
_NOT_KNOWN = -1


@dataclass(frozen=True, eq=False)
class _Cells:
    """Cells of one level of the octree: cell (i, j, k) has its middle at origin + (i + ½, j + ½, k + ½) side.

    inside : (n,) whether each middle is inside the surface: 1, 0, or -1 where that is not known yet
    """

    level: int
    origin: Array
    side: float
    places: NDArray[np.int64]
    inside: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class _Depths:
    """Cells with their middles (n, 3), the depth of those behind the wall (n,), and the way deeper (n, 3)."""

    cells: _Cells
    middles: Array
    depth: Array
    way: Array


def measure_void(surface: Surface, wall_m: float, progress: Progress = ignore_progress) -> Void:
    """Measure the void behind a wall > 0, in the surface's frame.

    The surface is closed, or open by holes that are closed by fans here as for its volume; it may be inside out.

    Parameters
    ----------
    progress : asked every few tenths of a second, its share meaning nothing; may raise Cancelled
    """
    closed = close_holes(surface)[0]
    if not len(closed.faces):
        return Void(wall_m, 0.0, 0.0, np.zeros(3), np.zeros((3, 3)), 0.0, np.zeros(3), 0.0, 0.0)
    solid_m3 = abs(measure_polyhedron(closed).volume_m3)
    leaf, void = LEAF_SHARE, measure_with_leaves(closed, wall_m, LEAF_SHARE, progress)
    if void.volume_m3 < SMALL_VOID * solid_m3:
        leaf, void = SMALL_LEAF_SHARE, measure_with_leaves(closed, wall_m, SMALL_LEAF_SHARE, progress)
    holes = bound_shell_error(surface, wall_m) + bound_overlap(split_bodies(merge_vertices(closed)))
    skin, pits = find_open_skin(closed, wall_m / 2), 0.0
    if skin is not None:
        pits = max(measure_with_leaves(closed, wall_m, leaf, progress, skin).volume_m3 - void.volume_m3, 0.0)
    return replace(void, holes_error_m3=holes, pits_m3=pits)


def measure_with_leaves(
    surface: Surface,
    wall_m: float,
    leaf_share: float,
    progress: Progress = ignore_progress,
    skin: OpenSkin | None = None,
) -> Void:
    """The same with leaves of that side, in walls, and of twice that side; the surface is closed.

    skin : what the wall lies behind, where it is not the whole surface
    """
    lower, upper = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    middle, leaf = (lower + upper) / 2, leaf_share * wall_m
    moved = Surface(surface.vertices - middle, surface.faces)
    nearest = NearestPoints(moved, wall_m / SAMPLES_A_WALL)
    if skin is not None:
        bridged = Surface(moved.vertices, skin.surface.faces)
        nearest = NearestPoints(bridged, wall_m / SAMPLES_A_WALL, skin.bridges - middle)
    waiting = [_make_root(upper - lower, leaf)]
    coarse, fine = np.zeros(17), np.zeros(17)
    while waiting:
        progress("void", 0.0)
        cells = waiting.pop()
        depths = _look_at(moved, nearest, cells, wall_m)
        full = depths.depth >= _HALF_DIAGONAL * cells.side
        whole = _sum_parts(depths.middles[full], cells.side)
        mixed = np.flatnonzero(np.abs(depths.depth) < _HALF_DIAGONAL * cells.side)
        fine += whole
        coarse += whole if cells.level else 0.0
        if cells.level <= 1:
            cut = _sum_cut(nearest, depths, mixed, wall_m)
            fine, coarse = (fine, coarse + cut) if cells.level else (fine + cut, coarse)
        if cells.level:
            waiting += _split(depths, mixed, wall_m)
    return _combine(coarse, fine, middle, wall_m)


def _make_root(size: Array, leaf: float) -> _Cells:
    """Cells about the origin that hold a box, so large that they are halved some times until they are leaves."""
    level = max(int(np.ceil(np.log2(max(float(size.max()) / leaf, 1.0)))) - 1, 1)
    side = leaf * 2.0**level
    count = np.ceil((size + leaf) / side).astype(int)
    places = np.argwhere(np.ones(count, bool))
    return _Cells(level, -count * side / 2 + _ASIDE * leaf, side, places, np.full(len(places), _NOT_KNOWN, np.int8))


def _look_at(surface: Surface, nearest: NearestPoints, cells: _Cells, wall_m: float) -> _Depths:
    """The depth of every cell that may hold a part of the void; the others are dropped."""
    middles = cells.origin + (cells.places + 0.5) * cells.side
    offset = middles - nearest.find(middles)
    distance = np.linalg.norm(offset, axis=1)
    may = distance > wall_m - _HALF_DIAGONAL * cells.side
    places, inside, middles, distance = cells.places[may], cells.inside[may], middles[may], distance[may]
    asked = np.flatnonzero(inside == _NOT_KNOWN)
    inside[asked] = lie_inside(surface, cells.origin, cells.side, places[asked], closed=True)
    sign = np.where(inside == 1, 1.0, -1.0)
    way = offset[may] * (sign / np.maximum(distance, 1e-300))[:, None]
    return _Depths(replace(cells, places=places, inside=inside), middles, sign * distance - wall_m, way)


def _split(depths: _Depths, mixed: NDArray[np.int64], wall_m: float) -> list[_Cells]:
    """The eight children of the mixed cells that may hold a part of the void, in parcels.

    A child whose middle is nearer to its parent's than that is to the surface lies on the same side of it. One that is
    nearer to its parent's nearest point than the wall, and more than its own corners reach, is metal throughout.
    """
    cells, signed = depths.cells, depths.depth[mixed] + wall_m
    sure = np.abs(signed) > _HALF_DIAGONAL / 2 * cells.side
    known = np.where(sure, cells.inside[mixed], _NOT_KNOWN).astype(np.int8)
    back = signed[:, None] * depths.way[mixed]  # from the nearest point to the parent's middle
    parents = cells.places[mixed]
    least = wall_m - _HALF_DIAGONAL * cells.side / 2
    parcels = []
    for start in range(0, len(mixed), _MOST_CELLS // 8):
        own = slice(start, start + _MOST_CELLS // 8)
        places = (2 * parents[own, None] + _CHILDREN).reshape(-1, 3)
        offset = (back[own, None] + (_CHILDREN - 0.5) * (cells.side / 2)).reshape(-1, 3)
        may = np.einsum("ij,ij->i", offset, offset) > max(least, 0.0) ** 2
        inside = np.repeat(known[own], 8)[may]
        parcels.append(_Cells(cells.level - 1, cells.origin, cells.side / 2, places[may], inside))
    return parcels


def _sum_parts(points: Array, side: float, shares: Array | None = None, areas: Array | None = None) -> Array:
    """(17,) volume, first (3) and second (9) moments, and area with its first moment (3), of parts of cubes."""
    volumes = np.full(len(points), side**3) if shares is None else shares * side**3
    areas = np.zeros(len(points)) if areas is None else areas * side**2
    second = (points * volumes[:, None]).T @ points + volumes.sum() * side**2 / 12 * np.eye(3)
    return np.concatenate([[volumes.sum()], volumes @ points, second.ravel(), [areas.sum()], areas @ points])


def _sum_cut(nearest: NearestPoints, depths: _Depths, mixed: NDArray[np.int64], wall_m: float) -> Array:
    """Sums over leaves, each cut by the plane through the void's skin as it is seen from the leaf's middle.

    In the middle of a blade the depth falls off again behind the plane: a leaf whose middle is not in the void holds a
    part of it only where that part's own centre is behind the wall.
    """
    side = depths.cells.side
    cut = cut_cubes(depths.depth[mixed] / side, depths.way[mixed])
    points = depths.middles[mixed] + side * cut.centre
    doubtful = np.flatnonzero((depths.depth[mixed] <= 0) & (cut.share > 0))
    distance = np.linalg.norm(points[doubtful] - nearest.find(points[doubtful]), axis=1)
    true = np.ones(len(mixed))
    true[doubtful] = distance > wall_m
    return _sum_parts(points, side, true * cut.share, true * cut.area)


def _combine(coarse: Array, fine: Array, middle: Array, wall_m: float) -> Void:
    """The void from its sums with leaves and with leaves of half the side: the error falls to a quarter."""
    sums = (4 * fine - coarse) / 3
    # Twice the extrapolation's own step: blades hardly thicker than two walls need that much.
    error = 2 * float(abs(sums[0] - fine[0]))
    if error > FEW_LEAVES * fine[0]:
        sums = fine
    volume, area = float(sums[0]), float(sums[13])
    if volume <= 0.0 or area <= 0.0:
        return Void(wall_m, 0.0, error, middle, np.zeros((3, 3)), 0.0, middle)
    centre = sums[1:4] / volume
    inertia = inertia_of(sums[4:13].reshape(3, 3) - volume * np.outer(centre, centre))
    return Void(wall_m, volume, error, middle + centre, inertia, area, middle + sums[14:] / area)
