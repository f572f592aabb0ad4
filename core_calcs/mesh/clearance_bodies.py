"""Bodies made ready to be tried against one another: points of each in patches, a distance grid along its own axes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array, apply, invert, make_transform
from .distance_grid import build_distance_grid
from .samples import sample_surface
from .surface import Surface

CELLS_A_SIZE = 32
"""Nodes of the grid, and points of the surface besides its vertices, are s/32 apart; s is the size of the body."""
STEPS_A_CELL = 512
"""A distance is kept as a whole number of so many parts of a cell: 64 cells deep at most."""
_PATCH_SIZE = 0.16
"""Points are taken together by the cubes of this side (share of s) that they fall into."""
_LEAST_POINTS = 500
_THINNEST = 0.01
"""Of a box's longest side: so thick a sheet is taken to be, for its size."""
_TRACE = np.array([2e-4, 1e-4, 0.0])
"""So much of its whole spread is added to that along x, y, z: it parts the axes of a round body and hardly turns those
of a long one."""
_FORWARD = np.array([1.0, 0.6, 0.3])
"""An axis points to this side, one way or the other as rounding has it no more."""


@dataclass(frozen=True, eq=False)
class ClearanceBody:
    """One body; frame B stands along its principal axes, and its grid with it.

    size_m : s, the cube root of its volume
    X_EB : (4, 4) from frame B to the frame its surface was given in
    surface_B : the surface itself
    points_B : (n, 3) its vertices and points spread between them, one patch after the other
    patch_starts : (p + 1,) where each patch begins, and the end
    patch_centres_B, patch_radii_m : (p, 3), (p,) a ball around each patch's points
    lower_m, upper_m : (3,) corners of its box
    grid_lower_m : (3,) position of node (0, 0, 0); cell_m : distance between nodes
    steps : (nx, ny, nz) signed distance in STEPS_A_CELL-th parts of a cell, negative inside; cut off
        farther outside than BAND_CELLS
    """

    size_m: float
    X_EB: Array
    surface_B: Surface
    points_B: Array
    patch_starts: NDArray[np.int64]
    patch_centres_B: Array
    patch_radii_m: Array
    lower_m: Array
    upper_m: Array
    grid_lower_m: Array
    cell_m: float
    steps: NDArray[np.int16]


def prepare_body(surface: Surface, volume_m3: float) -> ClearanceBody:
    """Points and distance grid of a surface; it need not be closed (see `build_distance_grid` on its inside).

    Parameters
    ----------
    volume_m3 : enclosed, for the body's size; that of its box is taken where it encloses nothing (nothing is then
        inside it, but it may be inside others)

    Raises
    ------
    MeshFileError : it has no area, or co-ordinates that are not numbers
    """
    X_EB = _find_axes(surface)
    surface_B = Surface(apply(invert(X_EB), surface.vertices), surface.faces)
    lower, upper = surface_B.vertices.min(axis=0), surface_B.vertices.max(axis=0)
    sides = np.maximum(upper - lower, _THINNEST * (upper - lower).max())
    size = float(np.cbrt(volume_m3 if volume_m3 > 0 else np.prod(sides)))
    grid = build_distance_grid(surface_B, size / CELLS_A_SIZE, reach_inside=True)
    spread = sample_surface(surface_B, size / CELLS_A_SIZE, at_least=_LEAST_POINTS).points
    points, starts = _gather_patches(np.concatenate([surface_B.vertices, spread]), _PATCH_SIZE * size)
    centres, radii = _bound_patches(points, starts)
    most = np.iinfo(np.int16).max
    steps = np.clip(np.rint(grid.values * (STEPS_A_CELL / grid.cell)), -most, most).astype(np.int16)
    return ClearanceBody(
        size, X_EB, surface_B, points, starts, centres, radii, lower, upper, grid.lower, grid.cell, steps
    )


def _find_axes(surface: Surface) -> Array:
    """(4, 4) principal axes of the vertices about their mean: a long bone's grid is no larger than it must be.

    A round body has no axes of its own, and rounding would choose, on every processor others: a trace is added to its
    spread that sets it along those of its frame.
    """
    centre = surface.vertices.mean(axis=0)
    spread = np.cov((surface.vertices - centre).T)
    _, axes = np.linalg.eigh(spread + np.diag(_TRACE * np.trace(spread)))
    axes *= np.where(_FORWARD @ axes < 0, -1.0, 1.0)
    axes[:, 2] = np.cross(axes[:, 0], axes[:, 1])
    X: Array = make_transform(axes, centre)
    return X


def _gather_patches(points: Array, side: float) -> tuple[Array, NDArray[np.int64]]:
    """The points put in the order of the cubes that they lie in, and where each cube's begin."""
    cubes = np.floor((points - points.min(axis=0)) / side).astype(np.int64)
    spans = cubes.max(axis=0) + 1
    keys = (cubes[:, 0] * spans[1] + cubes[:, 1]) * spans[2] + cubes[:, 2]
    order = np.argsort(keys, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(keys[order]) > 0])
    return points[order], np.r_[starts, len(points)]


def _bound_patches(points: Array, starts: NDArray[np.int64]) -> tuple[Array, Array]:
    lower = np.minimum.reduceat(points, starts[:-1])
    upper = np.maximum.reduceat(points, starts[:-1])
    centres = (lower + upper) / 2
    away = np.linalg.norm(points - np.repeat(centres, np.diff(starts), axis=0), axis=1)
    return centres, np.maximum.reduceat(away, starts[:-1])


@dataclass(frozen=True, eq=False)
class Crowd:
    """Many bodies in flat arrays, each body's own part after the one before it.

    bodies : n of them
    sizes_m : (n,)
    X_EB : (n, 4, 4) from frames B
    points_B, patch_starts, patch_centres_B, patch_radii_m : of all; a patch's points reach to the next one's start
    first_patches : (n + 1,) where each body's patches begin, and the end
    middles_B, halves_m : (n, 3) middle and half sides of the boxes
    grid_lowers_m, cells_m, shapes, first_nodes : (n, 3), (n,), (n, 3), (n,) of the grids
    steps : of all grids, flat
    """

    bodies: tuple[ClearanceBody, ...]
    sizes_m: Array
    X_EB: Array
    points_B: Array
    patch_starts: NDArray[np.int64]
    patch_centres_B: Array
    patch_radii_m: Array
    first_patches: NDArray[np.int64]
    middles_B: Array
    halves_m: Array
    grid_lowers_m: Array
    cells_m: Array
    shapes: NDArray[np.int64]
    first_nodes: NDArray[np.int64]
    steps: NDArray[np.int16]


def gather_bodies(bodies: Sequence[ClearanceBody]) -> Crowd:
    """Lay bodies side by side, in their order."""
    counts = np.array([len(body.points_B) for body in bodies], np.int64)
    first_points = np.cumsum(counts) - counts
    patches = np.array([len(body.patch_radii_m) for body in bodies], np.int64)
    nodes = np.array([body.steps.size for body in bodies], np.int64)
    starts = [body.patch_starts[:-1] + first for body, first in zip(bodies, first_points, strict=True)]
    return Crowd(
        bodies=tuple(bodies),
        sizes_m=np.array([body.size_m for body in bodies]),
        X_EB=np.stack([body.X_EB for body in bodies]),
        points_B=np.concatenate([body.points_B for body in bodies]),
        patch_starts=np.concatenate([*starts, counts.sum(keepdims=True)]),
        patch_centres_B=np.concatenate([body.patch_centres_B for body in bodies]),
        patch_radii_m=np.concatenate([body.patch_radii_m for body in bodies]),
        first_patches=np.r_[0, np.cumsum(patches)],
        middles_B=np.stack([(body.lower_m + body.upper_m) / 2 for body in bodies]),
        halves_m=np.stack([(body.upper_m - body.lower_m) / 2 for body in bodies]),
        grid_lowers_m=np.stack([body.grid_lower_m for body in bodies]),
        cells_m=np.array([body.cell_m for body in bodies]),
        shapes=np.array([body.steps.shape for body in bodies], np.int64),
        first_nodes=np.cumsum(nodes) - nodes,
        steps=np.concatenate([body.steps.ravel() for body in bodies]),
    )
