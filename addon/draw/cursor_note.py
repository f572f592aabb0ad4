"""The note beside the mouse: what a posing tool does, and why it stops."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import blf
import bpy
import gpu
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Vector

from ..properties.palette import STANDING_COLOURS
from .labels import APART_PX, Box, place_apart
from .marks import find_free
from .strokes import GROUND, PAD_PX, TEXT_PX, draw_box, draw_edged, lay_flat, measure_label, screen_scale, write_text

CLEAR_PX, BONE_PX = 26.0, 9.0
"""How far the note keeps from the mouse, and from the bones."""

LINE_PX, EDGE_PX = 17.0, 6.0
"""From line to line; how far the note keeps from the view's edge."""

TARGET_PX = 9.0
"""Half the size of the cross at a target."""

STEPS = 24
"""Boxes along a bone that are kept free."""


class Note(Protocol):
    """What is said and where; see the bridge's `CursorNote`."""

    mouse: tuple[float, float]
    lines: tuple[str, ...]
    state: str
    bones: np.ndarray
    target: tuple[float, float, float] | None


def draw_cursor_note(note: Note, taken: list[Box]) -> None:
    """Draw the note over the view, and the target. taken : gets its box"""
    scale = screen_scale()
    gpu.state.blend_set("ALPHA")
    colour = (*STANDING_COLOURS[note.state], 1.0)
    if note.target is not None:
        _draw_target(note.target, colour, scale)
    blf.size(0, TEXT_PX * scale)
    left, low, right, high = find_free(bpy.context)
    edge = EDGE_PX * scale
    free = (left + edge, low + edge, right - edge, high - edge)
    size = _measure(note.lines, scale)
    kept_free = [*taken, *_box_bones(note.bones, BONE_PX * scale)]
    (box,) = place_apart([note.mouse], [size], free, CLEAR_PX * scale, kept_free, APART_PX * scale)
    _write(note.lines, box, colour, scale)
    taken.append(box)
    gpu.state.blend_set("NONE")


def _measure(lines: Sequence[str], scale: float) -> tuple[float, float]:
    sizes = [measure_label(line) for line in lines]
    return max(width for width, _ in sizes), sizes[0][1] + (len(lines) - 1) * LINE_PX * scale


def _write(lines: Sequence[str], box: Box, colour: tuple[float, ...], scale: float) -> None:
    pad = PAD_PX * scale
    draw_box(box, (GROUND, GROUND))
    draw_box((box[0], box[1], box[0] + pad / 2, box[3]), (colour, colour))
    for row, line in enumerate(reversed(lines)):
        write_text(line, box[0] + 1.25 * pad, box[1] + 1.3 * pad + row * LINE_PX * scale)


def _box_bones(bones: np.ndarray, clear: float) -> list[Box]:
    """Boxes along the bones as the view shows them."""
    region, view = bpy.context.region, bpy.context.region_data
    boxes: list[Box] = []
    for ends in bones:
        seen = [location_3d_to_region_2d(region, view, Vector(end)) for end in ends]
        if None in seen:
            continue
        points = np.linspace(np.array(seen[0]), np.array(seen[1]), STEPS)
        boxes += [(x - clear, y - clear, x + clear, y + clear) for x, y in points.tolist()]
    return boxes


def _draw_target(place: tuple[float, float, float], colour: tuple[float, ...], scale: float) -> None:
    at = location_3d_to_region_2d(bpy.context.region, bpy.context.region_data, Vector(place))
    if at is None:
        return
    ends = np.array([(-1, 0), (-0.25, 0), (0.25, 0), (1, 0), (0, -1), (0, -0.25), (0, 0.25), (0, 1)])
    draw_edged(lay_flat(np.array(at) + TARGET_PX * scale * ends), colour, 2 * scale)
