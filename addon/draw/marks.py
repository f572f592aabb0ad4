"""Places marked over the view: a ring about each, and beside it what is the matter, in words."""

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

from ..properties.colours import STATE_COLOURS
from .labels import Box, group_anchors, place_labels

RADIUS_PX, RING_PX, TEXT_PX, PAD_PX = 10.0, 2.5, 12.0, 5.0
GROUND, INK, EDGE = (0.10, 0.10, 0.10, 0.88), (1.0, 1.0, 1.0, 1.0), (0.05, 0.05, 0.05, 0.9)
"""Of a label and of a ring's dark edge: they read on light and dark alike."""

NEAR_PX = 180.0
"""Marks nearer to each other than this have their labels together."""

CROSS = np.array([(-1, -1), (1, 1), (-1, 1), (1, -1)]) * 0.42
"""Beyond a limit the ring holds a cross: its ends, in radii of the ring."""


class Mark(Protocol):
    """A place in the scene, whether a ring marks it, a state and a text."""

    place: tuple[float, float, float]
    ringed: bool
    state: str
    text: str


def draw_marks(found: Sequence[Mark]) -> None:
    """Draw rings and labels over the view."""
    region, view = bpy.context.region, bpy.context.region_data
    scale = bpy.context.preferences.system.ui_scale
    blf.size(0, TEXT_PX * scale)
    seen = [(mark, location_3d_to_region_2d(region, view, Vector(mark.place))) for mark in found]
    seen = [(mark, at) for mark, at in seen if at is not None]
    anchors = [tuple(at) for _, at in seen]
    sizes = [blf.dimensions(0, mark.text) for mark, _ in seen]
    pad, clear = PAD_PX * scale, (RADIUS_PX + 2 * PAD_PX) * scale
    outer = [(width + 2 * pad, TEXT_PX * scale + 2 * pad) for width, _ in sizes]
    boxes: dict[int, Box] = {}
    for group in group_anchors(anchors, NEAR_PX * scale):
        placed = place_labels([anchors[i] for i in group], [outer[i] for i in group], find_free(bpy.context), clear)
        boxes.update(zip(group, placed, strict=True))
    gpu.state.blend_set("ALPHA")
    for i, (mark, at) in enumerate(seen):
        box = boxes[i]
        colour = (*STATE_COLOURS[mark.state], 1.0)
        _draw_leader(at, box, colour, RADIUS_PX * scale if mark.ringed else 0.0, scale)
        if mark.ringed:
            _draw_ring(at, mark.state, colour, scale)
        _draw_label(mark.text, box, colour, pad)
    gpu.state.blend_set("NONE")


def find_free(context: bpy.types.Context) -> Box:
    """The part of the view that header, tools and sidebar leave free [px]."""
    left, low, right, high = 0.0, 0.0, float(context.region.width), float(context.region.height)
    if context.preferences.system.use_region_overlap:
        for region in context.area.regions:
            if region.type == "UI" and region.width > 1:
                right = min(right, float(region.x - context.region.x))
            elif region.type == "TOOLS" and region.width > 1:
                left = max(left, float(region.x + region.width - context.region.x))
            elif region.type in {"HEADER", "TOOL_HEADER"} and region.height > 1:
                high = min(high, float(region.y - context.region.y))
    return left, low, right, high


def _draw_ring(at: Vector, state: str, colour: tuple[float, ...], scale: float) -> None:
    turn = np.linspace(0, 2 * np.pi, 49)
    points = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    strokes = np.stack([points[:-1], points[1:]], axis=1).reshape(-1, 2)
    if state == "fails":
        strokes = np.concatenate([strokes, CROSS])
    corners = np.pad(np.array(at) + RADIUS_PX * scale * strokes, ((0, 0), (0, 1)))
    _draw_strokes(corners, EDGE, (RING_PX + 2) * scale)
    _draw_strokes(corners, colour, RING_PX * scale)


def _draw_leader(at: Vector, box: Box, colour: tuple[float, ...], radius: float, scale: float) -> None:
    """From the ring, or from the place itself, to the nearest point of its label."""
    start, end = np.array(at), np.array([min(max(at[k], box[k]), box[k + 2]) for k in (0, 1)])
    far = max(float(np.linalg.norm(end - start)), 1.0)
    start = start + (end - start) * min(radius / far, 1.0)
    _draw_strokes(np.array([(*start, 0.0), (*end, 0.0)]), colour, scale)


def _draw_label(text: str, box: Box, colour: tuple[float, ...], pad: float) -> None:
    left, low, right, high = box
    corners = np.array([(left, low, 0), (right, low, 0), (right, high, 0), (left, high, 0)])[[0, 1, 2, 0, 2, 3]]
    _draw_triangles(corners, GROUND)
    edge = corners.copy()
    edge[:, 0] = np.where(edge[:, 0] == right, left + pad / 2, left)
    _draw_triangles(edge, colour)
    blf.color(0, *INK)
    blf.position(0, left + pad + pad / 4, low + 1.3 * pad, 0)
    blf.draw(0, text)


def _draw_strokes(corners: np.ndarray, colour: tuple[float, ...], width: float) -> None:
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, "LINES", {"pos": corners.astype(np.float32)})
    shader.bind()
    shader.uniform_float("color", colour)
    shader.uniform_float("viewportSize", (bpy.context.region.width, bpy.context.region.height))
    shader.uniform_float("lineWidth", width)
    batch.draw(shader)


def _draw_triangles(corners: np.ndarray, colour: tuple[float, ...]) -> None:
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    batch = batch_for_shader(shader, "TRIS", {"pos": corners.astype(np.float32)})
    shader.bind()
    shader.uniform_float("color", colour)
    batch.draw(shader)
