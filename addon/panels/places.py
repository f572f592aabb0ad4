"""Elements that the user has placed."""

from __future__ import annotations

import bpy

from ..bridge.figures import drawn_places, is_unreadable
from ..bridge.places import selected_element
from .tab import Tab, write_wrapped


class COUNTERPOISE_PT_places(Tab, bpy.types.Panel):
    """What no bone of a joint holds in place, moved and turned against its parent for good"""

    bl_idname = "COUNTERPOISE_PT_places"
    bl_label = "Places by Hand"
    bl_parent_id = "COUNTERPOISE_PT_skeleton"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, (placed, straddling) = self.layout, drawn_places(context.scene)
        column = layout.column(align=True)
        column.operator("counterpoise.take_element", icon="RESTRICT_SELECT_OFF")
        column.operator("counterpoise.place_element", icon="OBJECT_ORIGIN")
        if not selected_element(context):
            write_wrapped(layout, context, "Take an element, move it with G or turn it with R, then place it.", "INFO")
        if is_unreadable(context.scene):
            write_wrapped(layout, context, "Not known.", "INFO")
        elif not placed:
            write_wrapped(layout, context, "All elements stand where they were scanned.", "CHECKMARK")
        for own in placed:
            box = layout.box().column(align=True)
            row = box.row(align=True)
            split = row.split(factor=0.55, align=True)
            split.label(text=own.element)
            split.label(text=own.text)
            row.operator("counterpoise.restore_place", text="", icon="LOOP_BACK", emboss=False).element = own.element
            write_wrapped(box, context, own.reason, "TEXT")
        layout.operator("counterpoise.straddle", icon="CON_ARMATURE")
        if straddling:
            column = layout.box().column(align=True)
            for element, both in straddling:
                row = column.row(align=True)
                split = row.split(factor=0.45, align=True)
                split.label(text=element)
                split.label(text=both)
                alone = row.operator("counterpoise.straddle", text="", icon="X", emboss=False)
                alone.element, alone.alone = element, True


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_places,))
