"""Preferences: what holds for the user, not for one scene."""

from __future__ import annotations

import bpy


class CounterpoisePreferences(bpy.types.AddonPreferences):
    """How heavy the display may be."""

    bl_idname = __package__

    proxy_triangles: bpy.props.IntProperty(
        name="Triangles per Element",
        description="Greatest number of triangles of an element's display proxy; figures never come from it",
        default=3000,
        min=100,
        soft_max=50000,
    )

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.prop(self, "proxy_triangles")


def register() -> None:
    bpy.utils.register_class(CounterpoisePreferences)


def unregister() -> None:
    bpy.utils.unregister_class(CounterpoisePreferences)
