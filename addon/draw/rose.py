"""At which tilt it tips, by direction: a rose in the view's corner, turned as the view looks from above."""

from __future__ import annotations

from typing import Protocol

import blf
import bpy
import gpu
import numpy as np
from mathutils import Vector

from ..properties.palette import STANDING_COLOURS
from ..translations.phrases import say
from .labels import Box
from .marks import place_legend
from .strokes import (
    EDGE,
    GROUND,
    INK,
    draw_box,
    draw_edged,
    draw_label,
    draw_strokes,
    draw_triangles,
    lay_flat,
    measure_label,
    screen_scale,
)
from .strokes import write_text as write

RADIUS_PX, TEXT_PX, PAD_PX, AXIS_PX = 56.0, 11.0, 8.0, 14.0
"""Of the outer ring; height of letters, room around, room for the axes' names."""

FILL, RING = 0.45, (1.0, 1.0, 1.0, 0.3)
TITLE = "Tips at a tilt of {angle}"


class Rose(Protocol):
    """State; (n,) azimuths from x counter-clockwise, (n,) shares of the outer ring; that ring and the least in words.

    least : index of the direction that it tips in first
    """

    state: str
    azimuth_rad: np.ndarray
    shares: np.ndarray
    ring: str
    least: int
    text: str


class Balance(Protocol):
    """What is shown of how the pose stands, as far as it is drawn here. no_rose : why there is none; may be empty"""

    rose: Rose | None
    no_rose: str


def draw_balance_rose(balance: Balance, taken: list[Box]) -> None:
    """Above the legends that are there; one line instead where there is none. taken : their boxes; gets this one's"""
    if balance.rose is not None:
        _draw_rose(balance.rose, taken)
    elif balance.no_rose:
        _draw_reason(balance.no_rose, taken)


def _draw_reason(text: str, taken: list[Box]) -> None:
    """Where the rose would be, why there is none."""
    blf.size(0, TEXT_PX * screen_scale())
    box = place_legend(*measure_label(text), taken)
    gpu.state.blend_set("ALPHA")
    draw_label(text, box, (*STANDING_COLOURS["fails"], 1.0))
    gpu.state.blend_set("NONE")


def _draw_rose(found: Rose, taken: list[Box]) -> None:
    scale = screen_scale()
    blf.size(0, TEXT_PX * scale)
    pad, line, radius = PAD_PX * scale, (TEXT_PX + 6) * scale, RADIUS_PX * scale
    reach = radius + AXIS_PX * scale
    title = blf.dimensions(0, say(TITLE, angle=found.text))[0]
    width, height = max(2 * reach, title) + 2 * pad, 2 * reach + 1.6 * line + 2 * pad
    box = place_legend(width, height, taken)
    low = box[1]
    gpu.state.blend_set("ALPHA")
    draw_box(box, (GROUND, GROUND))
    write(say(TITLE, angle=found.text), box[0] + pad, box[3] - pad - TEXT_PX * scale)
    write(say("ring {angle}", angle=found.ring), box[0] + pad, box[1] + pad)
    middle = np.array([(box[0] + box[2]) / 2, low + pad + 0.6 * line + reach])
    turned = find_turn()
    _draw_rings(middle, radius, turned, scale)
    _draw_petals(found, middle, radius, turned, scale)
    gpu.state.blend_set("NONE")


def find_turn() -> float:
    """By how much the scene's x is turned on a plan whose right is the view's right [rad]."""
    right = bpy.context.region_data.view_rotation @ Vector((1.0, 0.0, 0.0))
    up = bpy.context.region_data.view_rotation @ Vector((0.0, 1.0, 0.0))
    flat = right if right.xy.length > 1e-3 else Vector((up.y, -up.x, 0.0))
    return float(-np.arctan2(flat.y, flat.x))


def _aim(angles: np.ndarray) -> np.ndarray:
    return np.stack([np.cos(angles), np.sin(angles)], axis=-1)


def _draw_rings(middle: np.ndarray, radius: float, turned: float, scale: float) -> None:
    """The outer ring and the half one, x and y."""
    around = _aim(np.linspace(0, 2 * np.pi, 65))
    for share in (0.5, 1.0):
        points = middle + share * radius * around
        draw_strokes(lay_flat(np.stack([points[:-1], points[1:]], axis=1).reshape(-1, 2)), RING, scale)
    for name, angle in (("x", 0.0), ("y", np.pi / 2)):
        way = _aim(np.array(angle + turned))
        draw_strokes(lay_flat(np.stack([middle, middle + radius * way])), RING, scale)
        at = middle + (radius + 0.55 * AXIS_PX * scale) * way
        write(name, at[0] - 0.3 * TEXT_PX * scale, at[1] - 0.35 * TEXT_PX * scale)


def _draw_petals(found: Rose, middle: np.ndarray, radius: float, turned: float, scale: float) -> None:
    """The outline all around, filled; the direction that it tips in first as a line with a dot at its end."""
    colour = STANDING_COLOURS[found.state]
    points = middle + radius * found.shares[:, None] * _aim(found.azimuth_rad + turned)
    ring = np.stack([points, np.roll(points, -1, axis=0)], axis=1)
    fan = np.concatenate([np.broadcast_to(middle, (len(points), 1, 2)), ring], axis=1)
    draw_triangles(lay_flat(fan.reshape(-1, 2)), (*colour, FILL))
    draw_edged(lay_flat(ring.reshape(-1, 2)), (*colour, 1.0), 1.5 * scale)
    way = _aim(found.azimuth_rad[found.least] + turned)
    draw_edged(lay_flat(np.stack([middle, middle + radius * way])), INK, 1.5 * scale)
    end, side = middle + radius * way, np.array([-way[1], way[0]])
    head = np.stack([end, end - 8 * scale * way + 4 * scale * side, end - 8 * scale * way - 4 * scale * side])
    draw_triangles(lay_flat(head), INK)
    dot = middle + 2.5 * scale * _aim(np.linspace(0, 2 * np.pi, 13))
    disc = np.stack([np.broadcast_to(middle, dot[:-1].shape), dot[:-1], dot[1:]], axis=1).reshape(-1, 2)
    draw_triangles(lay_flat(disc), (*EDGE[:3], 1.0))
