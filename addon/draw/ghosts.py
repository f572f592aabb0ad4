"""Elements where they once stood, or stand in other poses: see-through over the view, with a rim; fainter if hidden."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import blf
import bpy
import gpu
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from gpu_extras.batch import batch_for_shader
from mathutils import Vector

from .labels import APART_PX, Box, place_apart
from .marks import draw_leader, find_free
from .strokes import PAD_PX, TEXT_PX, draw_label, measure_label, screen_scale

HIDDEN, SEEN, RIM = 0.16, 0.45, 0.9
"""How opaque a ghost is where an element hides it, where nothing does, and how opaque its rim is."""
NAMED_SEEN = 0.22
"""The same of one of several, where nothing hides it: what lies behind is to be seen through all of them."""
DARK, BRIGHT = 0.55, 1.15
"""What light makes of the colour where none falls, and where all does."""


class Ghosts(Protocol):
    """Corners of triangles in the scene (3 k, 3), of the same standing out a little, and the light on each (3 k).

    colour, rim_colour : of both; name, place : of its label, none where the name is empty
    """

    triangles: np.ndarray
    rims: np.ndarray
    light: np.ndarray
    colour: tuple[float, float, float]
    rim_colour: tuple[float, float, float]
    name: str
    place: tuple[float, float, float] | None


Batches = tuple[gpu.types.GPUBatch, gpu.types.GPUBatch, gpu.types.GPUBatch]

_kept: list[tuple[Ghosts, Batches]] = []
"""The last ghosts drawn, and their batches: hidden, seen, rim."""


def draw_ghosts(found: Sequence[Ghosts]) -> None:
    """Draw ghosts, whose batches are kept until others are given."""
    known = {id(ghost): (ghost, batches) for ghost, batches in _kept}
    _kept[:] = [known.get(id(ghost)) or (ghost, _make_batches(ghost)) for ghost in found]
    gpu.state.blend_set("ALPHA")
    for ghost, batches in _kept:
        _draw_ghost(ghost, *batches)
    gpu.state.face_culling_set("NONE")
    gpu.state.depth_test_set("NONE")
    gpu.state.depth_mask_set(True)
    gpu.state.blend_set("NONE")


def _draw_ghost(ghost: Ghosts, hidden: gpu.types.GPUBatch, seen: gpu.types.GPUBatch, rim: gpu.types.GPUBatch) -> None:
    """First faintly through everything.

    Then what nothing hides: its depth alone, so that of a ghost only what is in front shows, the fill, and behind it
    the rim, seen from inside, which is left over along the outline.
    """
    gpu.state.face_culling_set("BACK")
    gpu.state.depth_mask_set(False)
    gpu.state.depth_test_set("NONE")
    _draw_smooth(hidden)
    gpu.state.depth_test_set("LESS_EQUAL")
    gpu.state.depth_mask_set(True)
    gpu.state.color_mask_set(False, False, False, False)
    _draw_smooth(seen)
    gpu.state.color_mask_set(True, True, True, True)
    gpu.state.depth_mask_set(False)
    _draw_smooth(seen)
    gpu.state.face_culling_set("FRONT")
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    shader.bind()
    shader.uniform_float("color", (*ghost.rim_colour, RIM))
    rim.draw(shader)


def draw_ghost_names(found: Sequence[Ghosts], taken: list[Box]) -> None:
    """The name of each ghost that has one, at its head. taken : gets the boxes of the labels"""
    region, view = bpy.context.region, bpy.context.region_data
    scale = screen_scale()
    blf.size(0, TEXT_PX * scale)
    named = [ghost for ghost in found if ghost.name and ghost.place is not None]
    seen = [(ghost, location_3d_to_region_2d(region, view, Vector(ghost.place))) for ghost in named]
    seen = [(ghost, at) for ghost, at in seen if at is not None]
    sizes = [measure_label(ghost.name) for ghost, _ in seen]
    anchors = [tuple(at) for _, at in seen]
    boxes = place_apart(anchors, sizes, find_free(bpy.context), 5 * PAD_PX * scale, taken, APART_PX * scale)
    gpu.state.blend_set("ALPHA")
    for (ghost, at), box in zip(seen, boxes, strict=True):
        draw_leader(at, box, (*ghost.colour, 1.0), 0.0, scale)
    for (ghost, _), box in zip(seen, boxes, strict=True):
        draw_label(ghost.name, box, (*ghost.colour, 1.0))
    gpu.state.blend_set("NONE")


def drop_batches() -> None:
    """Forget the batches: they belong to a window that may be gone."""
    _kept.clear()


def _draw_smooth(batch: gpu.types.GPUBatch) -> None:
    shader = gpu.shader.from_builtin("SMOOTH_COLOR")
    shader.bind()
    batch.draw(shader)


def _make_batches(found: Ghosts) -> Batches:
    smooth, plain = gpu.shader.from_builtin("SMOOTH_COLOR"), gpu.shader.from_builtin("UNIFORM_COLOR")
    shades = (DARK + (BRIGHT - DARK) * np.asarray(found.light, float))[:, None] * np.array(found.colour)
    shades = np.clip(shades, 0.0, 1.0)

    def fill(alpha: float) -> gpu.types.GPUBatch:
        tints = np.pad(shades, ((0, 0), (0, 1)), constant_values=alpha).astype(np.float32)
        return batch_for_shader(smooth, "TRIS", {"pos": found.triangles, "color": tints})

    share = NAMED_SEEN / SEEN if found.name else 1.0
    return fill(share * HIDDEN), fill(share * SEEN), batch_for_shader(plain, "TRIS", {"pos": found.rims})
