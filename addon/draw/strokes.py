"""Lines, areas and words over the view: what every overlay draws with. They read on light and dark alike."""

from __future__ import annotations

from collections.abc import Sequence

import blf
import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader

from .labels import Box

Colour = tuple[float, ...]

GROUND, INK, EDGE = (0.10, 0.10, 0.10, 0.88), (1.0, 1.0, 1.0, 1.0), (0.05, 0.05, 0.05, 0.9)
"""Of a label, of what is written on it, and of a line's dark edge."""

TEXT_PX, PAD_PX = 12.0, 5.0
"""Height of letters, room around them."""


def screen_scale() -> float:
    """How much greater than on a plain screen everything is to be."""
    return float(bpy.context.preferences.system.ui_scale)


def draw_strokes(corners: np.ndarray, colour: Colour, width_px: float) -> None:
    """Lines between pairs of corners (2 k, 3), in the scene or on the screen."""
    if not len(corners):
        return
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, "LINES", {"pos": np.asarray(corners, np.float32)})
    shader.bind()
    shader.uniform_float("color", colour)
    shader.uniform_float("viewportSize", (bpy.context.region.width, bpy.context.region.height))
    shader.uniform_float("lineWidth", width_px)
    batch.draw(shader)


def draw_tinted(corners: np.ndarray, colours: np.ndarray, width_px: float) -> None:
    """Lines between pairs of corners (2 k, 3), each corner in its colour (2 k, 4)."""
    if not len(corners):
        return
    shader = gpu.shader.from_builtin("POLYLINE_SMOOTH_COLOR")
    given = {"pos": np.asarray(corners, np.float32), "color": np.asarray(colours, np.float32)}
    batch = batch_for_shader(shader, "LINES", given)
    shader.bind()
    shader.uniform_float("viewportSize", (bpy.context.region.width, bpy.context.region.height))
    shader.uniform_float("lineWidth", width_px)
    batch.draw(shader)


def draw_edged(corners: np.ndarray, colour: Colour, width_px: float, edge_px: float = 1.0) -> None:
    """Lines with a dark edge on both sides."""
    draw_strokes(corners, (*EDGE[:3], EDGE[3] * colour[3]), width_px + 2 * edge_px * screen_scale())
    draw_strokes(corners, colour, width_px)


def draw_triangles(corners: np.ndarray, colour: Colour) -> None:
    """Filled triangles of corners (3 k, 3)."""
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    batch = batch_for_shader(shader, "TRIS", {"pos": np.asarray(corners, np.float32)})
    shader.bind()
    shader.uniform_float("color", colour)
    batch.draw(shader)


def draw_box(box: Box, tints: Sequence[Colour]) -> None:
    """A filled box, from the first tint on its left to the second on its right."""
    left, low, right, high = box
    corners = np.array([(left, low, 0), (right, low, 0), (right, high, 0), (left, high, 0)], np.float32)
    each = np.array([tints[0], tints[1], tints[1], tints[0]], np.float32)
    turns = [0, 1, 2, 0, 2, 3]
    shader = gpu.shader.from_builtin("SMOOTH_COLOR")
    batch_for_shader(shader, "TRIS", {"pos": corners[turns], "color": each[turns]}).draw(shader)


def draw_label(text: str, box: Box, colour: Colour) -> None:
    """A text on a dark box with an edge of a colour on its left; the size of letters is set before."""
    left, low, _, high = box
    pad = PAD_PX * screen_scale()
    draw_box(box, (GROUND, GROUND))
    draw_box((left, low, left + pad / 2, high), (colour, colour))
    write_text(text, left + 1.25 * pad, low + 1.3 * pad)


def write_text(text: str, x: float, y: float) -> None:
    """A text with its base line at a place; the size of letters is set before."""
    blf.color(0, *INK)
    blf.position(0, x, y, 0)
    blf.draw(0, text)
    gpu.state.blend_set("ALPHA")  # writing has switched it off


def measure_label(text: str) -> tuple[float, float]:
    """Width and height of a label's box; the size of letters is set before."""
    pad = PAD_PX * screen_scale()
    return blf.dimensions(0, text)[0] + 2.25 * pad, TEXT_PX * screen_scale() + 2 * pad


def cut_dashes(ends: np.ndarray, dash: float) -> np.ndarray:
    """Dashes (2 k, d) of a line (2, d), about so long, with gaps of two thirds of that; a dash at both ends."""
    start, along = np.asarray(ends[0], float), np.asarray(ends[1], float) - ends[0]
    count = max(1, round((float(np.linalg.norm(along)) / dash + 2 / 3) * 3 / 5))
    one = 1 / (count + (count - 1) * 2 / 3)
    begins = np.arange(count) * one * 5 / 3
    shares = np.stack([begins, begins + one], axis=1).reshape(-1, 1)
    dashes: np.ndarray = start + shares * along
    return dashes


def lay_flat(points: np.ndarray) -> np.ndarray:
    """Points on the screen (n, 2) as corners (n, 3)."""
    return np.pad(np.asarray(points, float), ((0, 0), (0, 1)))
