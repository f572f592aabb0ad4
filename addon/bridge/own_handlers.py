"""What Blender calls of the add-on when something happens: put on its lists, and taken off them."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import bpy

Handlers = Iterable[tuple[str, Callable[..., None]]]
"""Names of lists of bpy.app.handlers, each with what is to be called."""


def listen_for(handlers: Handlers) -> None:
    """Have each called from now on."""
    for name, handler in handlers:
        getattr(bpy.app.handlers, name).append(handler)


def leave_alone(handlers: Handlers) -> None:
    """Have none of them called any more; a list that somebody's script has cleared asks for nothing."""
    for name, handler in handlers:
        listed = getattr(bpy.app.handlers, name)
        if handler in listed:
            listed.remove(handler)
