"""The handlers that Blender calls when it draws a 3D view; there are none where there is no window."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from typing import Any

import bpy

from . import arcs, balance, balance_legend, cursor_note, facets, ghosts, marks, ranges, rose
from .labels import Box

Find = Callable[[bpy.types.Context], Any]

Layers = tuple[tuple[Callable[..., None], Find], ...]
"""What draws, and what finds what is to be drawn."""

_handles: list[object] = []
_told: set[str] = set()
"""Faults that the console has been told: a view is drawn many times a second."""


def follow(
    find_ghosts: Find,
    find_facets: Find,
    find_ranges: Find,
    find_arcs: Find,
    find_marks: Find,
    find_balance: Find,
    find_note: Find,
) -> None:
    """Draw what these find from now on, the later over the earlier; only where there is a window."""
    if bpy.app.background:
        return
    in_scene = (
        (ghosts.draw_ghosts, find_ghosts),
        (facets.draw_facets, find_facets),
        (balance.draw_ground, find_balance),
        (ranges.draw_ranges, find_ranges),
        (arcs.draw_arcs, find_arcs),
    )
    on_screen = (
        (ranges.draw_legend, find_ranges),
        (balance_legend.draw_balance_legend, find_balance),
        (rose.draw_balance_rose, find_balance),
        (marks.keep_off_signs, lambda _context: True),
        (marks.keep_off_rings, find_marks),
        (balance.keep_off_signs, find_balance),
        (arcs.draw_arc_notes, find_arcs),
        (ghosts.draw_ghost_names, find_ghosts),
        (marks.draw_marks, find_marks),
        (balance.draw_notes, find_balance),
        (cursor_note.draw_cursor_note, find_note),
    )
    for draw, layers, when in ((_draw_scene, in_scene, "POST_VIEW"), (_draw_screen, on_screen, "POST_PIXEL")):
        _handles.append(bpy.types.SpaceView3D.draw_handler_add(draw, (layers,), "WINDOW", when))


def _draw_scene(layers: Layers) -> None:
    """What lies in the scene."""
    for draw, find in layers:
        _draw(draw, find)


def _draw_screen(layers: Layers) -> None:
    """What lies on the screen; each layer leaves its boxes in a list, so that the next can keep off them."""
    taken: list[Box] = []
    for draw, find in layers:
        _draw(draw, find, taken)


def _draw(draw: Callable[..., None], find: Find, *rest: list[Box]) -> None:
    """Draw what is found, unless the view's overlays are off; a fault is told once and leaves the view alone."""
    context = bpy.context
    if not context.space_data.overlay.show_overlays:
        return
    try:
        if found := find(context):
            draw(found, *rest)
    except Exception as error:  # noqa: BLE001  whatever fails, Blender goes on drawing
        if repr(error) not in _told:
            _told.add(repr(error))
            traceback.print_exception(error)


def register() -> None: ...


def unregister() -> None:
    for handle in _handles:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")
    _handles.clear()
    ghosts.drop_batches()
    facets.drop_batches()
    ranges.drop_batches()
