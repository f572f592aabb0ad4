"""The timer that makes what the list of poses shows, little by little, while no tool is in use."""

from __future__ import annotations

import bpy

from .ghosts import drop_ghosts, lacks_ghosts, make_ghosts, shown_ghosts
from .mounted import DrawnGhosts
from .thumbnails import drop_thumbnails, make_thumbnails
from .tools_in_use import is_tool_in_use

FIRST_S, NEXT_S, BUSY_S = 0.2, 0.01, 0.4
"""Until the first picture is made, from one to the next, and until it is asked again whether a tool is in use."""


def wake_pictures() -> None:
    """Make soon what is missing, however often this is asked."""
    if not bpy.app.background and not bpy.app.timers.is_registered(make_pictures):
        bpy.app.timers.register(make_pictures, first_interval=FIRST_S)


def find_ghosts(context: bpy.types.Context) -> tuple[DrawnGhosts, ...]:
    """The ghosts to be drawn; what is missing of them is made soon, not while the view is drawn."""
    if lacks_ghosts(context.scene):
        wake_pictures()
    return shown_ghosts(context)


def make_pictures() -> float | None:
    """The timer: one picture or ghost for the scene of each window; when to go on, None where nothing is left."""
    if is_tool_in_use(bpy.context):
        return BUSY_S
    more = False
    for window in bpy.context.window_manager.windows:
        ghosts, left = make_ghosts(window.scene, 1)
        pictures, lacking = (0, True) if ghosts else make_thumbnails(window.scene, 1)
        more |= left or lacking
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                for region in area.regions:
                    if ghosts or (pictures and region.type == "UI"):
                        region.tag_redraw()
    return NEXT_S if more else None


def register() -> None:
    """Nothing runs until it is woken."""


def unregister() -> None:
    if bpy.app.timers.is_registered(make_pictures):
        bpy.app.timers.unregister(make_pictures)
    drop_thumbnails()
    drop_ghosts()
