"""Places marked over the view: a ring about each, and beside it what is the matter, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import blf
import bpy
import gpu
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Vector

from ..properties.palette import STATE_COLOURS
from .labels import APART_PX, Box, group_anchors, place_labels
from .strokes import PAD_PX, TEXT_PX, draw_edged, draw_label, draw_strokes, lay_flat, measure_label, screen_scale

RADIUS_PX, RING_PX = 10.0, 2.5

NEAR_PX = 180.0
"""Marks nearer to each other than this have their labels together."""

GIZMOS_PX, WRITTEN_PX = (100.0, 232.0), (210.0, 62.0)
"""Width and height of Blender's navigation signs in the upper right corner, and of its words in the upper left."""

AWAY_PX, LEGEND_PX = 14.0, 160.0
"""Of legends: distance from the view's corner and from each other, and how wide they are at least."""

CROSS = np.array([(-1, -1), (1, 1), (-1, 1), (1, -1)]) * 0.42
"""Beyond a limit the ring holds a cross: its ends, in radii of the ring."""


class Mark(Protocol):
    """A place in the scene, whether a ring marks it, a state and a text."""

    place: tuple[float, float, float]
    ringed: bool
    state: str
    text: str


def draw_marks(found: Sequence[Mark], taken: list[Box]) -> None:
    """Draw rings and labels over the view. taken : gets the boxes of the labels"""
    region, view = bpy.context.region, bpy.context.region_data
    scale = screen_scale()
    blf.size(0, TEXT_PX * scale)
    gpu.state.blend_set("ALPHA")
    seen = [(mark, location_3d_to_region_2d(region, view, Vector(mark.place))) for mark in found]
    seen = [(mark, at) for mark, at in seen if at is not None]
    for mark, at in seen:
        if mark.ringed and not mark.text:
            _draw_ring(at, mark.state, (*STATE_COLOURS[mark.state], 1.0), scale)
    seen = [(mark, at) for mark, at in seen if mark.text]
    anchors = [tuple(at) for _, at in seen]
    outer = [measure_label(mark.text) for mark, _ in seen]
    clear = (RADIUS_PX + 2 * PAD_PX) * scale
    radius = RADIUS_PX * scale
    rings = [(x - radius, y - radius, x + radius, y + radius) for x, y in anchors]
    boxes: dict[int, Box] = {}
    for group in group_anchors(anchors, NEAR_PX * scale):
        others = [ring for i, ring in enumerate(rings) if i not in group]
        busy = [*taken, *boxes.values(), *others]
        own = [anchors[i] for i in group], [outer[i] for i in group]
        placed = place_labels(*own, find_free(bpy.context), clear, busy, APART_PX * scale)
        boxes.update(zip(group, placed, strict=True))
    for i, (mark, at) in enumerate(seen):
        box = boxes[i]
        colour = (*STATE_COLOURS[mark.state], 1.0)
        draw_leader(at, box, colour, RADIUS_PX * scale if mark.ringed else 0.0, scale)
        if mark.ringed:
            _draw_ring(at, mark.state, colour, scale)
        taken.append(box)
    for i, (mark, _) in enumerate(seen):  # all labels over all lines: none runs through a text
        draw_label(mark.text, boxes[i], (*STATE_COLOURS[mark.state], 1.0))
    gpu.state.blend_set("NONE")


def keep_off_rings(found: Sequence[Mark], taken: list[Box]) -> None:
    """Where the rings will be: labels that come before them keep off. taken : gets their boxes"""
    region, view, radius = bpy.context.region, bpy.context.region_data, RADIUS_PX * screen_scale()
    for mark in found:
        at = location_3d_to_region_2d(region, view, Vector(mark.place)) if mark.ringed else None
        if at is not None:
            taken.append((at.x - radius, at.y - radius, at.x + radius, at.y + radius))


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


def place_legend(width: float, height: float, taken: list[Box]) -> Box:
    """A box in the lower right corner, above the legends that are there; all as wide as the widest below.

    taken : their boxes; gets this one's
    """
    away = AWAY_PX * screen_scale()
    _, low, right, _ = find_free(bpy.context)
    low = max([low, *(box[3] for box in taken)]) + away
    width = max([width, LEGEND_PX * screen_scale(), *(box[2] - box[0] for box in taken)])
    taken.append((right - width - away, low, right - away, low + height))
    return taken[-1]


def keep_off_signs(_found: object, taken: list[Box]) -> None:
    """Where Blender writes and has its own signs over the view: no label goes there. taken : gets the boxes"""
    scale, space = screen_scale(), bpy.context.space_data
    left, low, right, high = find_free(bpy.context)
    if space.show_gizmo and space.show_gizmo_navigate:
        wide, tall = GIZMOS_PX
        taken.append((right - wide * scale, max(low, high - tall * scale), right, high))
    if space.overlay.show_text:
        wide, tall = WRITTEN_PX
        taken.append((left, high - tall * scale, left + wide * scale, high))


def _draw_ring(at: Vector, state: str, colour: tuple[float, ...], scale: float) -> None:
    turn = np.linspace(0, 2 * np.pi, 49)
    points = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    strokes = np.stack([points[:-1], points[1:]], axis=1).reshape(-1, 2)
    if state == "fails":
        strokes = np.concatenate([strokes, CROSS])
    draw_edged(lay_flat(np.array(at) + RADIUS_PX * scale * strokes), colour, RING_PX * scale)


def draw_leader(at: Vector, box: Box, colour: tuple[float, ...], radius: float, scale: float) -> None:
    """From the ring, or from the place itself, to the nearest point of its label."""
    start, end = np.array(at), np.array([min(max(at[k], box[k]), box[k + 2]) for k in (0, 1)])
    far = max(float(np.linalg.norm(end - start)), 1.0)
    start = start + (end - start) * min(radius / far, 1.0)
    draw_strokes(lay_flat(np.stack([start, end])), colour, scale)
