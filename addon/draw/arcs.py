"""Range arcs of the joint in hand: as large on the screen wherever the joint is, over all that is in the view."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import blf
import bpy
import gpu
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Vector

from .labels import APART_PX, Box, place_apart
from .marks import CROSS, draw_leader, find_free
from .ranges import mix_colours
from .strokes import (
    EDGE,
    PAD_PX,
    TEXT_PX,
    draw_edged,
    draw_label,
    draw_strokes,
    draw_triangles,
    lay_flat,
    measure_label,
    screen_scale,
)

RADIUS_PX = 112.0
SHARES = {"flexion": 1.0, "lateral": 0.82, "axial": 0.34}
"""Of the arcs: each its own share of the radius, so that none lies over another."""

AWAY = 0.56
"""So far out along the child's axis the axial arc stands, in the radius."""

LINE_PX, USED_PX, EDGE_PX, BEAD_PX, TICK_PX = 2.5, 5.0, 1.0, 6.5, 6.0
"""Of the arc's line, of what of it is used, of the fan's edges; radius of the present angle's bead; half of a tick."""

REST, USED = 0.13, 0.38
"""How opaque the fan of the whole range is, and that of what is used: from neutral to the present angle."""

LIGHT = (0.93, 0.93, 0.93, 1.0)
"""Of the arc's line: it has a dark edge, and so reads on light and on dark."""

STEP_RAD = float(np.radians(3.0))


class Arc(Protocol):
    """See the bridge's DrawnArc: places (3,) in the scene, angles, words."""

    axis: str
    centre: np.ndarray
    along: np.ndarray
    zero: np.ndarray
    across: np.ndarray
    low_rad: float
    high_rad: float
    angle_rad: float
    inside_deg: float
    outside: bool
    text: str


def draw_arcs(found: Sequence[Arc]) -> None:
    """In the scene, hidden by nothing: the range as a fan, and what is used of it."""
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_mask_set(False)
    gpu.state.depth_test_set("NONE")
    radius = measure_radius(found[0].centre)
    for arc in found:
        _draw_arc(arc, radius, screen_scale())
    gpu.state.depth_mask_set(True)
    gpu.state.blend_set("NONE")


def draw_arc_notes(found: Sequence[Arc], taken: list[Box]) -> None:
    """A bead at each present angle; beside it axis, angle and range. taken : gets the boxes of labels and beads"""
    scale = screen_scale()
    radius = measure_radius(found[0].centre)
    blf.size(0, TEXT_PX * scale)
    beads = [(arc, tip) for arc in found if (tip := _project(trace(arc, radius, [arc.angle_rad])[0])) is not None]
    told = [(arc, tip) for arc, tip in beads if arc.text]
    seen = [_project(point) for arc in found for point in trace(arc, radius, spread(arc.low_rad, arc.high_rad))]
    around = BEAD_PX * scale
    own = [(x - around, y - around, x + around, y + around) for x, y in (tip for _, tip in beads)]
    busy = [*taken, *own, *((x - 2, y - 2, x + 2, y + 2) for x, y in filter(None, seen))]
    sizes = [measure_label(arc.text) for arc, _ in told]
    anchors = [tip for _, tip in told]
    boxes = place_apart(anchors, sizes, find_free(bpy.context), 4 * PAD_PX * scale, busy, APART_PX * scale)
    taken += [*own, *boxes]
    gpu.state.blend_set("ALPHA")
    for (arc, tip), box in zip(told, boxes, strict=True):
        draw_leader(tip, box, find_colour(arc), BEAD_PX * scale, scale)
    for (arc, _), box in zip(told, boxes, strict=True):  # all labels over all lines: none runs through a text
        draw_label(arc.text, box, find_colour(arc))
    for arc, tip in beads:
        _draw_bead(arc, np.array(tip), scale)
    gpu.state.blend_set("NONE")


def _project(point: np.ndarray) -> tuple[float, float] | None:
    at = location_3d_to_region_2d(bpy.context.region, bpy.context.region_data, Vector(point))
    return None if at is None else (at.x, at.y)


def measure_radius(centre: np.ndarray) -> float:
    """The arcs' radius in the scene, so that it is the same on the screen at any distance."""
    region, view = bpy.context.region, bpy.context.region_data
    right = view.view_rotation @ Vector((view.view_distance, 0.0, 0.0))
    ends = [location_3d_to_region_2d(region, view, Vector(centre) + share * right) for share in (0.0, 0.1)]
    if None in ends or (ends[1] - ends[0]).length < 1e-3:
        return 0.1 * float(view.view_distance)
    return RADIUS_PX * screen_scale() * 0.1 * float(view.view_distance) / (ends[1] - ends[0]).length


def trace(arc: Arc, radius: float, angles: Sequence[float] | np.ndarray, share: float = 1.0) -> np.ndarray:
    """(n, 3) points of an arc at its angles. share : of its own radius"""
    turns = np.asarray(angles, float)[:, None]
    aims = np.cos(turns) * arc.zero + np.sin(turns) * arc.across
    points: np.ndarray = arc.centre + AWAY * radius * arc.along + share * SHARES[arc.axis] * radius * aims
    return points


def spread(start: float, end: float) -> np.ndarray:
    """Angles from one to another, close enough for a round line."""
    return np.linspace(start, end, max(2, 1 + int(np.ceil(abs(end - start) / STEP_RAD))))


def find_colour(arc: Arc) -> tuple[float, ...]:
    """By how far inside its ends it stands, as bones are coloured."""
    inside, outside = np.array([arc.inside_deg]), np.array([arc.outside])
    return tuple(mix_colours(inside, outside)[0].tolist())


def _draw_arc(arc: Arc, radius: float, scale: float) -> None:
    colour, middle = find_colour(arc), trace(arc, radius, [0.0], 0.0)
    held = min(max(arc.angle_rad, arc.low_rad), arc.high_rad)
    rim, used = (trace(arc, radius, spread(*ends)) for ends in ((arc.low_rad, arc.high_rad), (0.0, held)))
    for points, tint in ((rim, (*LIGHT[:3], REST)), (used, (*colour[:3], USED))):
        fan = np.stack([np.broadcast_to(middle, points[:-1].shape), points[:-1], points[1:]], axis=1)
        draw_triangles(fan.reshape(-1, 3), tint)
    edges = np.concatenate([middle, rim[:1], middle, rim[-1:]])
    draw_edged(edges, (*LIGHT[:3], 0.7), EDGE_PX * scale, 0.5)
    tick = TICK_PX / (SHARES[arc.axis] * RADIUS_PX)
    ends = [trace(arc, radius, [end], 1 + side * tick) for end in (arc.low_rad, arc.high_rad) for side in (-1, 1)]
    neutral = [trace(arc, radius, [0.0], share) for share in (1 - tick, 1.0)]
    draw_edged(np.concatenate([_pair(rim), *ends, *neutral]), LIGHT, LINE_PX * scale)
    draw_edged(_pair(used), colour, USED_PX * scale)
    if arc.outside:  # dashed, as the bones are
        count = 2 * max(2, round(abs(arc.angle_rad - held) / (2 * STEP_RAD)))
        beyond = trace(arc, radius, np.linspace(held, arc.angle_rad, count)).reshape(-1, 3)
        draw_edged(beyond, colour, USED_PX * scale)


def _draw_bead(arc: Arc, at: np.ndarray, scale: float) -> None:
    """A disc at the present angle; beyond the range a ring with a cross in it, as where it stops."""
    colour = find_colour(arc)
    for radius, tint in ((BEAD_PX + 1.5, EDGE), (BEAD_PX, EDGE if arc.outside else colour)):
        rim = at + radius * scale * _turn(np.linspace(0, 2 * np.pi, 33))
        fan = np.stack([np.broadcast_to(at, rim[:-1].shape), rim[:-1], rim[1:]], axis=1)
        draw_triangles(lay_flat(fan.reshape(-1, 2)), tint)
    if arc.outside:
        rim = _turn(np.linspace(0, 2 * np.pi, 33))
        strokes = np.concatenate([np.stack([rim[:-1], rim[1:]], axis=1).reshape(-1, 2), CROSS])
        draw_strokes(lay_flat(at + BEAD_PX * scale * strokes), colour, 2 * scale)


def _turn(angles: np.ndarray) -> np.ndarray:
    return np.stack([np.cos(angles), np.sin(angles)], axis=1)


def _pair(points: np.ndarray) -> np.ndarray:
    """(2 k, 3) ends of the pieces of a line."""
    pieces: np.ndarray = np.stack([points[:-1], points[1:]], axis=1).reshape(-1, 3)
    return pieces
