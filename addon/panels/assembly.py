"""What is not mounted at all: loose elements are put together."""

from __future__ import annotations

import bpy

from .tab import Tab, write_wrapped


class COUNTERPOISE_PT_assembly(Tab, bpy.types.Panel):
    """Loose elements put together by their facets"""

    bl_idname = "COUNTERPOISE_PT_assembly"
    bl_label = "Assembly"
    bl_parent_id = "COUNTERPOISE_PT_skeleton"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("counterpoise.assemble", icon="SNAP_ON")
        hint = "Facets come from marks (Mark Facet), from another document, or from the joints as they are."
        write_wrapped(layout, context, hint, "INFO")


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_assembly,))
