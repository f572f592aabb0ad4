"""A vertebra's own shape: its centrum and its neural canal, seen along the column.

Seen along its canal a vertebra has a hole, and beside the hole the place where most bone lies behind bone is its
centrum. Nothing of its neighbours is asked, nor which way up it stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_fill_holes, distance_transform_edt, label

from ..spatial.transforms import Array, make_transform
from .column import ColumnAxes
from .partner import Partner

_STEP_S = 0.06
"""Bone is asked for at points so far apart (share of s)."""
UNCERTAINTY_S = _STEP_S / 2
"""So far off, as a share of s, the middle of a centrum may be found."""
_PITCHES_DEG = (0, -6, 6, -12, 12, -18, 18, -24, 24)
"""The canal is looked for along directions that lean so from the column's."""
_OPEN_S2, _BESIDE_S = 0.012, 0.15
"""A canal is open by so much at least, and its middle lies no farther beside the element's own."""
_RING = 1.25
"""A canal whose radius is so many times that of the widest bone beside it is a ring's."""
_LONG = 0.5
"""A centrum is as long as this share of the most bone there is along the column."""
_AS_WIDE = 0.9
"""Its middle is that of the places about which there is bone as wide to this share of the widest."""
_APART = 0.6
"""Places about which there is less than this share of the widest part a centrum from a spine."""


@dataclass(frozen=True, eq=False)
class VertebraShape:
    """What a vertebra's own surface tells of how it is built.

    X_WV : (4, 4) the middle of its centrum, and directions: x along the canal towards the column's head, y to its left,
        z to its back
    length_m : of the centrum along x
    canal_m : height of the canal's middle above the centrum's, along z; None where there is no canal to be seen
    is_ring : its canal is wider than any bone beside it, as an atlas's is: what was taken for a centrum is none
    """

    X_WV: Array
    length_m: float
    canal_m: float | None
    is_ring: bool


@dataclass(frozen=True, eq=False)
class _View:
    """Bone seen along a direction: an element's inside on a lattice (nx, ny, nz), x towards the head.

    lower : (3,) of the lattice, about the element's centre, along the view's axes (columns of R)
    """

    R: Array
    lower: Array
    step: float
    inside: NDArray[np.bool_]

    @property
    def depth(self) -> Array:
        """(ny, nz) how many points of bone lie behind each other."""
        depth: Array = self.inside.sum(axis=0)
        return depth

    def place(self, index: Array) -> Array:
        """Of a lattice index, about the element's centre, along the view's axes [m]."""
        place: Array = self.lower + self.step * np.asarray(index, float)
        return place


def find_vertebra_shape(element: Partner, axes: ColumnAxes) -> VertebraShape:
    """The centrum and the canal of an element that stands in a column, either way up."""
    views = [_look_along(element, axes, np.radians(pitch)) for pitch in _PITCHES_DEG]
    holes = [_find_canal(view, element.size) for view in views]
    open_m2 = [0.0 if hole is None else hole[0] for hole in holes]
    best = open_m2.index(max(open_m2))
    view, hole = views[best], holes[best]
    across = distance_transform_edt(np.pad(view.depth > _LONG * view.depth.max(), 1))[1:-1, 1:-1]
    beside = view.lower[1] + view.step * np.arange(across.shape[0])
    across[np.abs(beside) > _BESIDE_S * element.size] = 0
    at = np.round(np.argwhere(_pick_thickest(across, view.depth)).mean(axis=0)).astype(int)
    if not view.inside[:, at[0], at[1]].any():
        at = np.array(np.unravel_index(int(across.argmax()), across.shape))
    run = np.flatnonzero(view.inside[:, at[0], at[1]])
    middle = view.place(np.array([(run[0] + run[-1]) / 2, *at]))
    canal = None if hole is None else float(hole[1] - middle[2])
    X_WV = make_transform(view.R, element.centre + view.R @ middle)
    is_ring = np.sqrt(open_m2[best] / np.pi) > _RING * view.step * across.max()
    return VertebraShape(X_WV, view.step * (run[-1] - run[0] + 1), canal, bool(is_ring))


def _pick_thickest(across: Array, depth: Array) -> NDArray[np.bool_]:
    """Where (ny, nz) bone is widest, of pieces that lie apart the one with the most bone across and behind.

    The foot of a strong spine is as wide as a centrum, but not as long.
    """
    pieces, count = label(across >= _APART * across.max())
    peaks = [np.where(pieces == k, across, 0.0) for k in range(1, count + 1)]
    best = max(peaks, key=lambda peak: float((peak * depth).max()))
    picked: NDArray[np.bool_] = best >= _AS_WIDE * best.max()
    return picked


def _look_along(element: Partner, axes: ColumnAxes, pitch: float) -> _View:
    c, s = np.cos(pitch), np.sin(pitch)
    R = np.column_stack([c * axes.head + s * axes.back, axes.left, c * axes.back - s * axes.head])
    step = _STEP_S * element.size
    about = (element.samples.points - element.centre) @ R
    lower, upper = about.min(axis=0), about.max(axis=0)
    counts = np.ceil((upper - lower) / step).astype(int) + 1
    lower = (lower + upper - step * (counts - 1)) / 2
    lines = [low + step * np.arange(count) for low, count in zip(lower, counts, strict=True)]
    lattice = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1)
    inside = element.grid.distances((lattice.reshape(-1, 3)) @ R.T + element.centre) < 0
    return _View(R, lower, step, np.reshape(inside, lattice.shape[:3]))


def _find_canal(view: _View, size: float) -> tuple[float, float] | None:
    """Area [m2] and height [m] of the largest hole near the middle; None where there is none."""
    bone = view.depth > 0
    holes, count = label(binary_fill_holes(bone) & ~bone)
    found = None
    for k in range(1, count + 1):
        y, z = np.nonzero(holes == k)
        area, middle = len(y) * view.step**2, view.place(np.array([0.0, y.mean(), z.mean()]))
        if area >= _OPEN_S2 * size**2 and abs(middle[1]) <= _BESIDE_S * size and (found is None or area > found[0]):
            found = area, float(middle[2])
    return found
