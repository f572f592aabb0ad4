"""Small pictures of the whole animal in a pose, seen from its right side, the ground as a line.

Made from display surfaces: for the eye alone, no figure is taken from them. Bone is light with a dark outline, so that
it reads on a dark ground as on a light one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..mesh.shading import Floats, Frame, shade_triangles
from ..mesh.surface import Surface
from ..skeleton.kinematics import place_elements
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array

FINER = 3
"""Cells to a pixel, each way: so that edges are smooth."""

ROOM = 1.06
"""How much larger than what it shows a picture is."""

BONE, SHADE, LINE, GROUND, UNDER = (
    np.array(colour, np.float32)
    for colour in ((0.96, 0.92, 0.82), (0.36, 0.30, 0.26), (0.13, 0.11, 0.10), (0.72, 0.72, 0.72), (0.28, 0.28, 0.28))
)
"""Colours (sRGB) of bone in full light, in shade, of its outline; of the line of the ground, and of that under it."""

GROUND_CELLS = 2
"""How thick each of those two lines is."""

STEP_SHARE = 0.012
"""From so great a step of depth on, as a share of the picture's width, an edge inside the outline is drawn."""

BELOW = (ROOM - 1) / 2
"""Of a picture to scale the share that is kept free below the ground."""

Pixels = NDArray[np.float32]
"""(rows, columns, 4) red, green, blue, opacity from 0 to 1, sRGB, the top row first; colour is not multiplied."""


@dataclass(frozen=True, eq=False)
class PictureParts:
    """Surfaces made ready, one after the other.

    names : of the elements; ends : (k + 1,) where each one's vertices begin
    """

    names: tuple[str, ...]
    vertices: Floats
    faces: NDArray[np.int64]
    ends: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class PlacedParts:
    """Where a pose puts the surfaces, as the viewer sees them: right, up, towards the viewer [m]; ground_m : height."""

    seen: Floats
    faces: NDArray[np.int64]
    ground_m: float

    @cached_property
    def box(self) -> tuple[Array, Array]:
        """(2,) least and greatest of what is shown, the ground included."""
        across, up = self.seen[:, 0], self.seen[:, 1]  # one by one: along rows of three numpy is slow
        low = np.array([across.min(initial=np.inf), up.min(initial=self.ground_m)], float)
        high = np.array([across.max(initial=-np.inf), up.max(initial=self.ground_m)], float)
        return low, high


def prepare_pictures(surfaces: Mapping[str, Surface]) -> PictureParts:
    """Make display surfaces ready for any number of pictures. surfaces : by element, in its frame E [m]"""
    own = {name: surface for name, surface in surfaces.items() if len(surface.faces)}
    ends = np.cumsum([0, *(len(surface.vertices) for surface in own.values())])
    shifted = [surface.faces + start for surface, start in zip(own.values(), ends, strict=False)]
    return PictureParts(
        tuple(own),
        np.concatenate([np.zeros((0, 3)), *(surface.vertices for surface in own.values())]).astype(np.float32),
        np.concatenate([np.zeros((0, 3), np.int64), *shifted]),
        ends,
    )


def place_parts(skeleton: Skeleton, parts: PictureParts, pose: Pose, ground_m: float) -> PlacedParts:
    """Put the surfaces where a pose has them and look at them from the animal's right, whichever way it faces.

    Raises
    ------
    SkeletonError : the pose does not fit the skeleton
    """
    seen = place_points(skeleton, parts, pose, find_axes(pose))
    return PlacedParts(seen, parts.faces, ground_m)


def place_points(skeleton: Skeleton, parts: PictureParts, pose: Pose, axes: Array | None = None) -> Floats:
    """(n, 3) where a pose puts the vertices of the surfaces [m].

    axes : (3, 3) that they are given along, as rows; None: those of the world

    Raises
    ------
    SkeletonError : the pose does not fit the skeleton
    """
    X_WE = place_elements(skeleton, pose)[:, :3]
    along = X_WE if axes is None else axes @ X_WE
    X_of = {element.name: X.astype(np.float32) for element, X in zip(skeleton.elements, along, strict=True)}
    placed = np.empty_like(parts.vertices)
    for name, start, end in zip(parts.names, parts.ends, parts.ends[1:], strict=False):
        X = X_of[name]
        placed[start:end] = parts.vertices[start:end] @ X[:, :3].T + X[:, 3]
    return placed


def tell_places(skeleton: Skeleton, pose: Pose) -> bytes:
    """Where a pose has every element and from where it is looked at: the same bytes, the same picture.

    Raises
    ------
    SkeletonError : the pose does not fit the skeleton
    """
    return np.concatenate([place_elements(skeleton, pose).ravel(), find_axes(pose).ravel()]).tobytes()


def find_axes(pose: Pose) -> Array:
    """(3, 3) right, up and towards the viewer, world: up is up, and towards him is the animal's right, levelled."""
    towards = -pose.X_WN[:3, 1] * (1.0, 1.0, 0.0)
    if np.linalg.norm(towards) < 0.1:  # it lies on its side: there is no better side than that of an upright one
        towards = np.array([0.0, -1.0, 0.0])
    towards /= np.linalg.norm(towards)
    up = np.array([0.0, 0.0, 1.0])
    return np.stack([np.cross(up, towards), up, towards])


def draw_to_scale(all_placed: Sequence[PlacedParts], pixels: int) -> list[Pixels]:
    """Pictures of several poses to one scale, the ground at one height, nothing empty above or below."""
    boxes = [placed.box for placed in all_placed if len(placed.seen)]
    grounds = [placed.ground_m for placed in all_placed if len(placed.seen)]
    across = ROOM * max((float((high - low).max()) for low, high in boxes), default=0.0) or 1.0
    below = max((ground - low[1] for (low, _), ground in zip(boxes, grounds, strict=True)), default=0.0)
    pictures = [draw_parts(placed, pixels, across, float(below)) for placed in all_placed]
    used = np.flatnonzero(np.any([picture[..., 3].any(axis=1) for picture in pictures], axis=0))
    if not len(used):
        return pictures
    return [picture[used[0] : used[-1] + 1] for picture in pictures]


def draw_parts(placed: PlacedParts, pixels: int, across_m: float | None = None, below_m: float = 0.0) -> Pixels:
    """A square picture.

    across_m : what it shows from side to side; None: all there is, with a little room. Several pictures of the same
        have their ground at one height
    below_m : how deep under the ground such a picture shows what is there
    """
    low, high = placed.box if len(placed.seen) else (np.zeros(2), np.ones(2))
    across = across_m or ROOM * float((high - low).max()) or 1.0
    middle = (low + high) / 2
    bottom = middle[1] - across / 2 if across_m is None else placed.ground_m - below_m - BELOW * across
    cells = FINER * pixels
    frame = Frame(float(middle[0] - across / 2), float(bottom), across / cells, cells, cells)
    light, depth = shade_triangles(placed.seen, placed.faces, frame)
    rows = round((placed.ground_m - frame.low) / frame.cell_m)
    colour, opacity = _paint(light, depth, STEP_SHARE * across, rows)
    return _shrink(colour, opacity, FINER)[::-1]


def _paint(light: Floats, depth: Floats, step_m: float, ground: int) -> tuple[Floats, Floats]:
    """Colour (rows, columns, 3) and opacity of every cell, lowest row first."""
    there = np.isfinite(depth)
    colour = SHADE + (BONE - SHADE) * np.nan_to_num(light)[..., None] ** np.float32(1.3)
    outer = _spread(there) & ~there
    bare = np.where(there, depth, np.float32(0))
    inner = np.zeros_like(there)
    for axis in (0, 1):
        for way in (1, -1):
            beside = np.roll(bare, way, axis)
            inner |= there & np.roll(there, way, axis) & (beside - bare > step_m)
    colour[inner] = 0.35 * colour[inner] + 0.65 * LINE
    colour[outer] = LINE
    opacity = (there | outer).astype(np.float32)
    for top, tint in ((ground, GROUND), (ground - GROUND_CELLS, UNDER)):
        band = slice(max(top - GROUND_CELLS, 0), max(top, 0))
        free = opacity[band] == 0
        colour[band][free], opacity[band][free] = tint, 1.0
    return colour, opacity


def _spread(there: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What is there and what lies next to it, two cells wide."""
    wide = np.pad(there, 2)
    for axis in (0, 1):
        wide = wide | np.roll(wide, 1, axis) | np.roll(wide, -1, axis)
    wide = wide | np.roll(wide, 1, 0) | np.roll(wide, -1, 0) | np.roll(wide, 1, 1) | np.roll(wide, -1, 1)
    return wide[2:-2, 2:-2]


def _shrink(colour: Floats, opacity: Floats, times: int) -> Pixels:
    """Means of square groups of cells, each colour by its opacity."""
    rows, columns = opacity.shape[0] // times, opacity.shape[1] // times
    whole = np.concatenate([colour * opacity[..., None], opacity[..., None]], axis=2)
    means: Pixels = whole.reshape(rows, times, columns, times, 4).mean(axis=(1, 3), dtype=np.float32)
    covered = means[..., 3:]
    means[..., :3] /= np.where(covered > 0, covered, 1)
    return means
