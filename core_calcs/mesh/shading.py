"""Small shaded pictures of surfaces, seen from afar along one direction.

Every triangle that covers the middle of a cell of the picture gives it its depth and the light that falls on it; of
several the nearest counts. Most triangles of a fine surface are smaller than a cell and cover no middle: they are told
by their bounding boxes and cost next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LIGHT = np.array([-0.45, 0.62, 0.64])
"""Where light comes from: right, up and towards the viewer, of length 1."""

Floats = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Frame:
    """What part of the plane across the view a picture shows.

    left, low : of its corner, rightwards and upwards [m]
    cell_m : across a cell
    columns, rows : of cells
    """

    left: float
    low: float
    cell_m: float
    columns: int
    rows: int


def shade_triangles(seen: Floats, faces: NDArray[np.int64], frame: Frame) -> tuple[Floats, Floats]:
    """Light and depth in every cell.

    Parameters
    ----------
    seen : (n, 3) rightwards, upwards, towards the viewer [m]
    faces : (m, 3)

    Returns
    -------
    light : (rows, columns), the lowest row first, 0 to 1; not a number where nothing is
    depth : (rows, columns) towards the viewer [m]; minus infinity where nothing is
    """
    u = (seen[:, 0] - np.float32(frame.left)) / np.float32(frame.cell_m) - np.float32(0.5)
    v = (seen[:, 1] - np.float32(frame.low)) / np.float32(frame.cell_m) - np.float32(0.5)
    face, column, row = _list_cells(u, v, faces, frame)
    a, b, c = (faces[face, k] for k in range(3))
    du, dv = column - u[a], row - v[a]
    bu, bv, cu, cv = u[b] - u[a], v[b] - v[a], u[c] - u[a], v[c] - v[a]
    twice = bu * cv - cu * bv
    safe = np.where(twice == 0, 1, twice)
    at_b, at_c = (du * cv - cu * dv) / safe, (bu * dv - du * bv) / safe
    inside = (twice != 0) & (at_b >= 0) & (at_c >= 0) & (at_b + at_c <= 1)
    face, cell = face[inside], (row * frame.columns + column)[inside]
    near = seen[:, 2]
    a, b, c = (faces[face, k] for k in range(3))
    deep = near[a] + at_b[inside] * (near[b] - near[a]) + at_c[inside] * (near[c] - near[a])
    order = np.argsort(deep)  # the nearest is written last, over the others
    light = np.full(frame.rows * frame.columns, np.nan, np.float32)
    depth = np.full(frame.rows * frame.columns, -np.inf, np.float32)
    light[cell[order]] = _light_faces(seen, faces[face[order]])
    depth[cell[order]] = deep[order]
    return light.reshape(frame.rows, -1), depth.reshape(frame.rows, -1)


def _list_cells(
    u: Floats, v: Floats, faces: NDArray[np.int64], frame: Frame
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Cells whose middle is in the bounding box of a triangle: the triangle, column and row of each."""
    spans = []
    for at, most in ((u, frame.columns), (v, frame.rows)):
        a, b, c = at[faces[:, 0]], at[faces[:, 1]], at[faces[:, 2]]
        first = np.ceil(np.minimum(np.minimum(a, b), c)).astype(np.int64)
        last = np.floor(np.maximum(np.maximum(a, b), c)).astype(np.int64)
        spans.append((np.maximum(first, 0), np.minimum(last, most - 1)))
    (left, right), (low, high) = spans
    hit = np.flatnonzero((right >= left) & (high >= low))
    wide, tall = (right - left + 1)[hit], (high - low + 1)[hit]
    count = wide * tall
    which = np.repeat(np.arange(len(hit)), count)
    place = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    up, along = np.divmod(place, wide[which])
    return hit[which], left[hit][which] + along, low[hit][which] + up


def _light_faces(seen: Floats, faces: NDArray[np.int64]) -> Floats:
    """How much light falls on the side of each triangle that is seen, however it is wound."""
    a, b, c = (seen[faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    across *= np.where(across[:, 2] < 0, -1, 1)[:, None]
    lengths = np.linalg.norm(across, axis=1)
    light: Floats = (0.5 + 0.5 * (across @ LIGHT) / np.where(lengths > 0, lengths, 1)).astype(np.float32)
    return light
