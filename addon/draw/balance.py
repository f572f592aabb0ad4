"""How the pose stands: centre of mass, plumb line, support polygon and margin, what the feet take, joint moments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import blf
import bpy
import gpu
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Vector

from ..properties.palette import MOMENT_COLOURS, NOT_KNOWN_COLOUR, REACTION_COLOUR, STANDING_COLOURS
from .labels import APART_PX, Box, place_apart
from .marks import draw_leader, find_free
from .strokes import (
    EDGE,
    INK,
    PAD_PX,
    TEXT_PX,
    cut_dashes,
    draw_edged,
    draw_label,
    draw_strokes,
    draw_tinted,
    draw_triangles,
    lay_flat,
    measure_label,
    screen_scale,
)

FILL, HIDDEN = 0.16, 0.35
"""How opaque the support polygon is, and its outline where an element hides it."""
OUTLINE_PX, NEAREST_PX, PLUMB_PX, ARROW_PX, SPAN_PX = 1.5, 4.0, 1.5, 4.0, 2.0
CENTRE_PX, POINT_PX, HEAD_PX, TICK_PX, DASH_PX = 9.0, 6.0, 12.0, 6.0, 7.0
"""Radii of the centre's mark and of the ground point's, length of an arrow's head, half of a tick, a dash."""

EDGE_DASHES = {"holds": 0.0, "close": 0.16, "fails": 0.06, "not known": 0.03}
"""The nearest edge's dashes as shares of its length, so that its state shows without colour; zero: none."""

WIDTHS_PX = (2.0, 3.5, 5.0, 6.5, 8.0, 10.0)
"""Of lines of moments, from the least to the greatest."""
PIECES = 4
"""So many pieces a line is drawn in, each with the moment in its middle."""


class Support(Protocol):
    """See the bridge's DrawnSupport: a state, points of the scene, lines between two of them or None, a text."""

    state: str
    centre: np.ndarray
    ground: np.ndarray
    polygon: np.ndarray
    edge: np.ndarray | None
    reach: np.ndarray | None
    beyond: np.ndarray | None
    text: str


class Reaction(Protocol):
    """An arrow from tail to tip, both (3,), where it may begin (2, 3) or None, a text."""

    tip: np.ndarray
    tail: np.ndarray
    span: np.ndarray | None
    text: str


class Moments(Protocol):
    """Lines (s, 2, 3), (s, 2) share of the greatest that is shown at both ends, nan where not known."""

    ends: np.ndarray
    shares: np.ndarray
    top: str


class Balance(Protocol):
    """What is shown of how the pose stands."""

    support: Support | None
    reactions: Sequence[Reaction]
    arrows: str
    moments: Moments | None


def draw_ground(found: Balance) -> None:
    """In the scene: the support polygon, fainter where elements hide it, and the moments over the elements."""
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_mask_set(False)
    if found.support is not None:
        _draw_polygon(found.support)
    if found.moments is not None:
        gpu.state.depth_test_set("NONE")
        _draw_moments(found.moments)
    gpu.state.depth_test_set("NONE")
    gpu.state.depth_mask_set(True)
    gpu.state.blend_set("NONE")


def _draw_polygon(support: Support) -> None:
    colour, corners, scale = STANDING_COLOURS[support.state], support.polygon, screen_scale()
    if len(corners) >= 3:
        gpu.state.depth_test_set("LESS_EQUAL")
        fan = [corners[[0, i, i + 1]] for i in range(1, len(corners) - 1)]
        draw_triangles(np.concatenate(fan), (*colour, FILL))
    if len(corners) < 2:
        return
    ring = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1).reshape(-1, 3)
    for test, opaque in (("NONE", HIDDEN), ("LESS_EQUAL", 1.0)):
        gpu.state.depth_test_set(test)
        draw_edged(ring, (*colour, opaque), OUTLINE_PX * scale)
        if support.edge is not None:
            dash = EDGE_DASHES[support.state] * float(np.linalg.norm(support.edge[1] - support.edge[0]))
            nearest = cut_dashes(support.edge, dash) if dash else support.edge
            draw_edged(nearest, (*colour, opaque), NEAREST_PX * scale)


def _draw_moments(moments: Moments) -> None:
    """Each line in pieces, the wider and the lighter the greater the moment; grey dashes where it is not known."""
    scale = screen_scale()
    known = ~np.isnan(moments.shares).any(axis=1)
    pieces, shares = cut_pieces(moments.ends[known], moments.shares[known])
    widths = np.minimum((shares * len(WIDTHS_PX)).astype(int), len(WIDTHS_PX) - 1)
    for i, width in enumerate(WIDTHS_PX):  # all dark edges first: they would cut the line where pieces meet
        draw_strokes(pieces[widths == i].reshape(-1, 3), EDGE, (width + 2) * scale)
    colours = np.pad(mix_shares(shares), ((0, 0), (0, 1)), constant_values=1.0)
    for i, width in enumerate(WIDTHS_PX):
        own = widths == i
        draw_tinted(pieces[own].reshape(-1, 3), np.repeat(colours[own], 2, axis=0), width * scale)
    dashes = [cut_dashes(own, 0.2 * float(np.linalg.norm(own[1] - own[0]))) for own in moments.ends[~known]]
    if dashes:
        draw_edged(np.concatenate(dashes), (*NOT_KNOWN_COLOUR, 1.0), 3 * scale)


def cut_pieces(ends: np.ndarray, shares: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lines (s, 2, 3) in pieces (p, 2, 3), and (p,) the share in the middle of each."""
    cuts = np.linspace(0, 1, PIECES + 1)
    points = ends[:, :1] + cuts[:, None] * (ends[:, 1:] - ends[:, :1])
    middles = (cuts[1:] + cuts[:-1]) / 2
    own = shares[:, :1] + middles * (shares[:, 1:] - shares[:, :1])
    return np.stack([points[:, :-1], points[:, 1:]], axis=2).reshape(-1, 2, 3), own.reshape(-1)


def mix_shares(shares: np.ndarray) -> np.ndarray:
    """(n, 3) colours of shares of the greatest moment."""
    tints = np.array(list(MOMENT_COLOURS.values()))
    return np.stack([np.interp(shares, list(MOMENT_COLOURS), tints[:, k]) for k in range(3)], axis=1)


def keep_off_signs(found: Balance, taken: list[Box]) -> None:
    """Plumb line, marks and arrows before they are drawn: no label of the joint in hand goes there."""
    scale = screen_scale()
    if (
        found.support is not None
        and (seen := _project(np.stack([found.support.centre, found.support.ground]))) is not None
    ):
        taken += [_bound(seen[:1], CENTRE_PX * scale), _bound(seen[1:], POINT_PX * scale)]
        steps = seen[0] + np.linspace(0, 1, STEPS)[:, None] * (seen[1] - seen[0])
        taken += [_bound(step[None], 2 * scale) for step in steps]
    for reaction in found.reactions:
        if (seen := _project(np.stack([reaction.tip, reaction.tail]))) is not None:
            taken.append(_bound(seen, TICK_PX * scale))


def draw_notes(found: Balance, taken: list[Box]) -> None:
    """On the screen: plumb line, marks, dimension line, arrows, and words beside them that cover nothing taken."""
    scale, notes, drawn = screen_scale(), [], list(taken)
    gpu.state.blend_set("ALPHA")
    for reaction in found.reactions:
        notes += _draw_arrow(reaction, scale, drawn)
    if found.support is not None:
        notes += _draw_support(found.support, scale, drawn)
    blf.size(0, TEXT_PX * scale)
    free = find_free(bpy.context)
    notes = [note for note in notes if free[0] <= note[0][0] <= free[2] and free[1] <= note[0][1] <= free[3]]
    sizes = [measure_label(text) for _, text, _ in notes]
    boxes = place_apart([at for at, _, _ in notes], sizes, free, 2 * PAD_PX * scale, drawn, APART_PX * scale)
    taken += boxes
    for box, (at, _, colour) in zip(boxes, notes, strict=True):
        draw_leader(at, box, colour, 0.0, scale)
    for box, (_, text, colour) in zip(boxes, notes, strict=True):
        draw_label(text, box, colour)
    gpu.state.blend_set("NONE")


STEPS = 24
"""Boxes along the plumb line that are kept free."""

Note = tuple[tuple[float, float], str, tuple[float, ...]]
"""Where on the screen, what, in which colour."""


def _project(points: np.ndarray) -> np.ndarray | None:
    """(n, 2) on the screen; None where one of them is behind the eye."""
    region, view = bpy.context.region, bpy.context.region_data
    seen = [location_3d_to_region_2d(region, view, Vector(point)) for point in np.asarray(points, float).tolist()]
    return None if None in seen else np.array(seen, float)


def _draw_arrow(reaction: Reaction, scale: float, drawn: list[Box]) -> list[Note]:
    """An arrow up to the foot; over it, lighter, from where to where it may begin. drawn : gets its box"""
    span = () if reaction.span is None else reaction.span
    seen = _project(np.stack([reaction.tip, reaction.tail, *span]))
    if seen is None:
        return []
    tip, tail, ends = seen[0], seen[1], seen[2:]
    colour = (*REACTION_COLOUR, 1.0)
    along, far = _direct(tail, tip)
    across = np.array([-along[1], along[0]])
    if len(ends) and np.linalg.norm(ends[1] - ends[0]) > TICK_PX * scale:
        light = (*(0.5 + 0.5 * np.array(REACTION_COLOUR)), 0.9)
        ticks = [end + side * TICK_PX * scale * across for end in ends for side in (-1, 1)]
        draw_edged(lay_flat(np.array([*ends, *ticks])), light, SPAN_PX * scale, 0.75)
    head = min(HEAD_PX * scale, far)
    neck = tip - head * along
    draw_edged(lay_flat(np.stack([tail, neck])), colour, ARROW_PX * scale)
    for grown, own in ((1.5 * scale, EDGE), (0.0, colour)):
        wide = 0.5 * head + grown
        corners = np.stack(
            [tip + 2 * grown * along, neck - grown * along + wide * across, neck - grown * along - wide * across]
        )
        draw_triangles(lay_flat(corners), own)
    lowest = min((tail, *ends), key=lambda end: end[1])
    drawn.append(_bound(seen, TICK_PX * scale))
    return [(tuple(lowest), reaction.text, colour)]


def _bound(points: np.ndarray, room: float) -> Box:
    """The box of points on the screen, with room around."""
    (left, low), (right, high) = points.min(axis=0) - room, points.max(axis=0) + room
    return float(left), float(low), float(right), float(high)


def _draw_support(support: Support, scale: float, drawn: list[Box]) -> list[Note]:
    """Plumb line, dimension line, marks. drawn : gets the boxes of the marks"""
    colour = (*STANDING_COLOURS[support.state], 1.0)
    notes: list[Note] = []
    seen = _project(np.stack([support.centre, support.ground]))
    if seen is None:
        return []
    centre, ground = seen
    draw_edged(lay_flat(cut_dashes(seen, DASH_PX * scale)), INK, PLUMB_PX * scale)
    if support.reach is not None and (reach := _project(support.reach)) is not None:
        if support.beyond is not None and (beyond := _project(support.beyond)) is not None:
            draw_edged(lay_flat(cut_dashes(beyond, DASH_PX * scale)), colour, OUTLINE_PX * scale)
        _draw_dimension(reach, colour, scale)
        notes.append((tuple(reach.mean(axis=0)), support.text, colour))
    else:
        notes.append((tuple(ground), support.text, colour))
    drawn += [_bound(centre[None], CENTRE_PX * scale), _bound(ground[None], POINT_PX * scale)]
    _draw_point(ground, support.state, colour, scale)
    _draw_centre(centre, scale)
    return notes


def _draw_dimension(ends: np.ndarray, colour: tuple[float, ...], scale: float) -> None:
    """A line with a tick across each end."""
    along, far = _direct(*ends)
    if far < 1:
        return
    across = np.array([-along[1], along[0]]) * TICK_PX * scale
    corners = np.array([*ends, ends[0] - across, ends[0] + across, ends[1] - across, ends[1] + across])
    draw_edged(lay_flat(corners), colour, OUTLINE_PX * scale)


def _draw_point(at: np.ndarray, state: str, colour: tuple[float, ...], scale: float) -> None:
    """The point below the centre: a ring; in it a dot where it holds, a bar where close, a cross where it fails."""
    signs = {
        "holds": [(-0.25, 0), (0.25, 0)],
        "close": [(0, -0.6), (0, 0.6)],
        "fails": [(-0.7, -0.7), (0.7, 0.7), (-0.7, 0.7), (0.7, -0.7)],
    }
    ring = _turn(np.linspace(0, 2 * np.pi, 33))
    strokes = np.concatenate(
        [np.stack([ring[:-1], ring[1:]], axis=1).reshape(-1, 2), signs.get(state, np.zeros((0, 2)))]
    )
    draw_edged(lay_flat(at + POINT_PX * scale * strokes), colour, 2 * scale)


def _draw_centre(at: np.ndarray, scale: float) -> None:
    """The sign of a centre of mass: a disc, two of its quarters dark."""
    radius = CENTRE_PX * scale
    for quarter in range(4):
        arc = at + radius * _turn(np.linspace(quarter, quarter + 1, 9) * np.pi / 2)
        fan = np.stack([np.broadcast_to(at, arc[:-1].shape), arc[:-1], arc[1:]], axis=1).reshape(-1, 2)
        draw_triangles(lay_flat(fan), INK if quarter % 2 else (*EDGE[:3], 1.0))
    ring = at + radius * _turn(np.linspace(0, 2 * np.pi, 33))
    draw_edged(lay_flat(np.stack([ring[:-1], ring[1:]], axis=1).reshape(-1, 2)), INK, 1.5 * scale)


def _turn(angles: np.ndarray) -> np.ndarray:
    return np.stack([np.cos(angles), np.sin(angles)], axis=1)


def _direct(start: np.ndarray, end: np.ndarray) -> tuple[np.ndarray, float]:
    """Unit vector from start to end, up where they are one, and the distance."""
    far = float(np.linalg.norm(end - start))
    return ((end - start) / far if far > 1e-6 else np.array([0.0, 1.0])), far
