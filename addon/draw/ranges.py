"""How far inside their range joints stand: bones in colour, dashed where they are outside, and a legend in degrees."""

from __future__ import annotations

from typing import Protocol

import blf
import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Vector

from ..properties.palette import NOT_KNOWN_COLOUR, RANGE_COLOURS, STATE_COLOURS
from ..translations.phrases import look_up, tell
from .labels import Box
from .marks import place_legend
from .strokes import GROUND, draw_box, write_text

LINE_PX, EDGE_PX, CHOSEN_PX = 3.0, 5.0, 8.0
"""Of a bone's line, of the dark edge about it, and of the light one where the bone is selected."""

EDGE, CHOSEN_EDGE = (0.05, 0.05, 0.05, 0.8), (1.0, 1.0, 1.0, 0.95)

DASHES = np.array([(0.0, 0.16), (0.28, 0.44), (0.56, 0.72), (0.84, 1.0)])
"""Along a bone that is outside its range: where its dashes begin and end."""

LIFT = 4e-3
"""Towards the eye, as a share of the view's distance: the line lies in the very bone that it is drawn over."""

TITLE = "Inside the bony range"
STEP_PX, BAR_PX, TEXT_PX, PAD_PX = 44.0, 8.0, 11.0, 8.0
"""Of the legend: from mark to mark, height of the bar and of letters, room around."""


class Ranges(Protocol):
    """Lines in the scene (n, 2, 3), (n,) degrees inside with nan where unknown, (n,) outside, (n,) selected."""

    ends: np.ndarray
    inside_deg: np.ndarray
    outside: np.ndarray
    chosen: np.ndarray
    in_front: bool


Stroke = tuple[gpu.types.GPUBatch, tuple[float, ...] | None, float]
"""A batch of lines, their colour unless each has its own, their width [px]."""

_kept: list[tuple[Ranges, list[Stroke]]] = []
"""The last lines drawn, and their batches."""


def draw_ranges(found: Ranges) -> None:
    """Draw the bones' lines, whose batches are kept until others are given."""
    if not _kept or _kept[0][0] is not found:
        _kept[:] = [(found, _make_strokes(found))]
    view = bpy.context.region_data
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_mask_set(False)
    gpu.state.depth_test_set("NONE" if found.in_front else "LESS_EQUAL")
    with gpu.matrix.push_pop():
        gpu.matrix.translate(view.view_rotation @ Vector((0.0, 0.0, LIFT * view.view_distance)))
        for stroke in _kept[0][1]:
            _draw_stroke(*stroke)
    gpu.state.depth_test_set("NONE")
    gpu.state.depth_mask_set(True)
    gpu.state.blend_set("NONE")


def drop_batches() -> None:
    """Forget the batches: they belong to a window that may be gone."""
    _kept.clear()


def mix_colours(inside_deg: np.ndarray, outside: np.ndarray) -> np.ndarray:
    """(n, 4) a colour for each joint: by how far inside it stands, that of failing outside, grey where unknown."""
    marks = np.array(list(RANGE_COLOURS))
    tints = np.array(list(RANGE_COLOURS.values()))
    mixed = np.stack([np.interp(inside_deg, marks, tints[:, k]) for k in range(3)], axis=1)
    mixed[outside] = STATE_COLOURS["fails"]
    mixed[np.isnan(inside_deg)] = NOT_KNOWN_COLOUR
    return np.pad(mixed, ((0, 0), (0, 1)), constant_values=1.0).astype(np.float32)


def _make_strokes(found: Ranges) -> list[Stroke]:
    """The edges first, then the lines."""
    ends, chosen = np.asarray(found.ends, np.float32), found.chosen
    colours = mix_colours(found.inside_deg, found.outside)
    whole = ends[~found.outside].reshape(-1, 3)
    starts, along = ends[found.outside, :1], ends[found.outside, 1:] - ends[found.outside, :1]
    dashes = (starts + DASHES.reshape(-1, 1) * along).reshape(-1, 3)
    corners = np.concatenate([whole, dashes]).astype(np.float32)
    each = np.concatenate(
        [np.repeat(colours[~found.outside], 2, axis=0), np.repeat(colours[found.outside], DASHES.size, axis=0)]
    )
    strokes = [
        _make_stroke(ends[chosen].reshape(-1, 3), CHOSEN_EDGE, CHOSEN_PX),
        _make_stroke(ends.reshape(-1, 3), EDGE, EDGE_PX),
    ]
    if len(corners):
        shader = gpu.shader.from_builtin("POLYLINE_SMOOTH_COLOR")
        strokes.append((batch_for_shader(shader, "LINES", {"pos": corners, "color": each}), None, LINE_PX))
    return [stroke for stroke in strokes if stroke is not None]


def _make_stroke(corners: np.ndarray, colour: tuple[float, ...], width_px: float) -> Stroke | None:
    if not len(corners):
        return None
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    return batch_for_shader(shader, "LINES", {"pos": corners}), colour, width_px


def _draw_stroke(batch: gpu.types.GPUBatch, colour: tuple[float, ...] | None, width_px: float) -> None:
    region = bpy.context.region
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR" if colour else "POLYLINE_SMOOTH_COLOR")
    shader.bind()
    if colour:
        shader.uniform_float("color", colour)
    shader.uniform_float("viewportSize", (region.width, region.height))
    shader.uniform_float("lineWidth", width_px * bpy.context.preferences.system.ui_scale)
    batch.draw(shader)


def draw_legend(found: Ranges, taken: list[Box]) -> None:
    """What the colours mean, in the lower right corner of the view. taken : gets the legend's box"""
    scale = bpy.context.preferences.system.ui_scale
    step, bar, text, pad = (px * scale for px in (STEP_PX, BAR_PX, TEXT_PX, PAD_PX))
    marks = list(RANGE_COLOURS)
    unknown = bool(np.isnan(found.inside_deg).any())
    blf.size(0, text)
    title, past, lacking = look_up(TITLE), look_up("beyond"), tell("not known")
    title_px, beyond, unknown_px = (blf.dimensions(0, word)[0] for word in (title, past, lacking))
    width = beyond + (len(marks) - 0.4) * step + (unknown_px + 2 * pad if unknown else 0.0) + 3 * pad
    width = max(width, title_px + 2 * pad)
    height = 2 * text + bar + 4 * pad
    left, low, _, _ = box = place_legend(width, height, taken)
    gpu.state.blend_set("ALPHA")
    draw_box(box, [GROUND, GROUND])
    write_text(title, left + pad, low + height - pad - text)
    y, x = low + 2 * pad + text, left + pad
    for start, end in DASHES:
        tint = (*STATE_COLOURS["fails"], 1.0)
        draw_box((x + start * beyond, y, x + end * beyond, y + bar), [tint, tint])
    write_text(past, x, low + pad)
    x += beyond + 2 * pad
    for i, mark in enumerate(marks):
        tints = [(*RANGE_COLOURS[other], 1.0) for other in (mark, marks[min(i + 1, len(marks) - 1)])]
        draw_box((x, y, x + (step if i + 1 < len(marks) else 0.4 * step), y + bar), tints)
        write_text(f"{mark:.0f}°", x, low + pad)
        x += step
    if unknown:
        x += 2 * pad - 0.4 * step
        draw_box((x, y, x + unknown_px, y + bar), [(*NOT_KNOWN_COLOUR, 1.0)] * 2)
        write_text(lacking, x, low + pad)
    gpu.state.blend_set("NONE")
