"""Preferences: what holds for the user, not for one scene."""

from __future__ import annotations

import bpy


class CounterpoisePreferences(bpy.types.AddonPreferences):
    """How heavy the display may be, and whether what was found is kept."""

    bl_idname = __package__

    proxy_triangles: bpy.props.IntProperty(
        name="Triangles per Element",
        description="Greatest number of triangles of an element's display proxy; figures never come from it",
        default=3000,
        min=100,
        soft_max=50000,
    )

    keep_joints: bpy.props.BoolProperty(
        name="Keep Joints Found",
        description="Keep the joints that were found, up to 64 MB, so that the same bones with the same settings are "
        "not searched again",
        default=True,
    )

    check_at_rest: bpy.props.BoolProperty(
        name="Check at Rest",
        description="Once the pose rests, find out beside Blender what runs into what, and what it shows to the wind",
        default=True,
    )

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.prop(self, "proxy_triangles")
        layout.prop(self, "keep_joints")
        layout.prop(self, "check_at_rest")


def register() -> None:
    bpy.utils.register_class(CounterpoisePreferences)


def unregister() -> None:
    bpy.utils.unregister_class(CounterpoisePreferences)
