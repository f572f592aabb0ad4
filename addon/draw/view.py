"""The handlers that Blender calls when it draws a 3D view; there are none where there is no window."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from typing import Any

import bpy

from . import facets, ghosts, marks, ranges

Find = Callable[[bpy.types.Context], Any]

_handles: list[object] = []
_told: set[str] = set()
"""Faults that the console has been told: a view is drawn many times a second."""


def follow(find_ghosts: Find, find_facets: Find, find_ranges: Find, find_marks: Find) -> None:
    """Draw what these find from now on, the later over the earlier; only where there is a window."""
    if bpy.app.background:
        return
    for draw, find, when in (
        (ghosts.draw_ghosts, find_ghosts, "POST_VIEW"),
        (facets.draw_facets, find_facets, "POST_VIEW"),
        (ranges.draw_ranges, find_ranges, "POST_VIEW"),
        (ranges.draw_legend, find_ranges, "POST_PIXEL"),
        (marks.draw_marks, find_marks, "POST_PIXEL"),
    ):
        _handles.append(bpy.types.SpaceView3D.draw_handler_add(_draw, (draw, find), "WINDOW", when))


def _draw(draw: Callable[[Any], None], find: Find) -> None:
    """Draw what is found, unless the view's overlays are off; a fault is told once and leaves the view alone."""
    context = bpy.context
    if not context.space_data.overlay.show_overlays:
        return
    try:
        if found := find(context):
            draw(found)
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
