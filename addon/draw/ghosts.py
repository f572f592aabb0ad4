"""Elements where they once stood: translucent over the view, in one colour, with a dark rim; fainter where hidden."""

from __future__ import annotations

from typing import Protocol

import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader

from ..properties.colours import GHOST_COLOUR, GHOST_RIM

HIDDEN, SEEN, RIM = 0.16, 0.45, 0.9
"""How opaque a ghost is where an element hides it, where nothing does, and how opaque its rim is."""
DARK, BRIGHT = 0.55, 1.15
"""What light makes of the colour where none falls, and where all does."""


class Ghosts(Protocol):
    """Corners of triangles in the scene (3 k, 3), of the same standing out a little, and the light on each (3 k)."""

    triangles: np.ndarray
    rims: np.ndarray
    light: np.ndarray


Batches = tuple[gpu.types.GPUBatch, gpu.types.GPUBatch, gpu.types.GPUBatch]

_kept: list[tuple[Ghosts, Batches]] = []
"""The last ghosts drawn, and their batches: hidden, seen, rim."""


def draw_ghosts(found: Ghosts) -> None:
    """Draw ghosts, whose batches are kept until others are given.

    First faintly through everything. Then what nothing hides: its depth alone, so that of a ghost only what is in front
    shows, the fill, and behind it the rim, seen from inside, which is left over along the outline.
    """
    if not _kept or _kept[0][0] is not found:
        _kept[:] = [(found, _make_batches(found))]
    hidden, seen, rim = _kept[0][1]
    gpu.state.blend_set("ALPHA")
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
    shader.uniform_float("color", (*GHOST_RIM, RIM))
    rim.draw(shader)
    gpu.state.face_culling_set("NONE")
    gpu.state.depth_test_set("NONE")
    gpu.state.depth_mask_set(True)
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
    shades = (DARK + (BRIGHT - DARK) * np.asarray(found.light, float))[:, None] * np.array(GHOST_COLOUR)
    shades = np.clip(shades, 0.0, 1.0)

    def fill(alpha: float) -> gpu.types.GPUBatch:
        tints = np.pad(shades, ((0, 0), (0, 1)), constant_values=alpha).astype(np.float32)
        return batch_for_shader(smooth, "TRIS", {"pos": found.triangles, "color": tints})

    return fill(HIDDEN), fill(SEEN), batch_for_shader(plain, "TRIS", {"pos": found.rims})
