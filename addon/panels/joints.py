"""Joints that the user sets: by figures, or by the facet that tells them."""

from __future__ import annotations

import bpy

from .tab import Tab, write_wrapped


class COUNTERPOISE_PT_joints(Tab, bpy.types.Panel):
    """Joints that the facets did not tell, or told wrongly"""

    bl_idname = "COUNTERPOISE_PT_joints"
    bl_label = "Set a Joint"
    bl_parent_id = "COUNTERPOISE_PT_skeleton"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        column = self.layout.column(align=True)
        column.operator("counterpoise.set_joint", icon="CON_ROTLIKE")
        column.operator("counterpoise.mark_facet", icon="FACESEL")
        column.operator("counterpoise.disc_thickness", icon="MOD_SOLIDIFY")
        if context.mode != "EDIT_MESH":
            hint = "To mark a facet: Show Element (step 1), Tab for Edit Mode, select the faces of its facet."
            write_wrapped(self.layout, context, hint, "INFO")


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_joints,))
