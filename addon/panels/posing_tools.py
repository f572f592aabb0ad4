"""The artist's tools to pose with, in the sidebar and in the view's Pose menu."""

from __future__ import annotations

import bpy

from ..bridge.posing_text import name_in_hand
from ..bridge.reference_pictures import list_references
from .tab import Tab, count_columns, is_narrow, write_wrapped

BY_MOUSE = (
    ("counterpoise.turn_joint", "ORIENTATION_GIMBAL"),
    ("counterpoise.bend_chain", "IPO_EASE_IN_OUT"),
    ("counterpoise.reach", "CON_KINEMATIC"),
    ("counterpoise.look_at", "HIDE_OFF"),
    ("counterpoise.move_body", "EMPTY_ARROWS"),
    ("counterpoise.roll_foot", "TRIA_UP_BAR"),
)
"""Tools that follow the mouse over the view, and their icons."""


class COUNTERPOISE_PT_posing_tools(Tab, bpy.types.Panel):
    """Tools that pose joints and chains, and keep to their limits"""

    bl_idname = "COUNTERPOISE_PT_posing_tools"
    bl_label = "Posing Tools"
    bl_parent_id = "COUNTERPOISE_PT_pose"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        if context.mode == "POSE":
            layout.label(text=name_in_hand(context), icon="BONE_DATA")
        else:
            write_wrapped(layout, context, "In pose mode they work on the active bone.", "INFO")
        grid = layout.grid_flow(row_major=True, columns=count_columns(context), even_columns=True, align=True)
        grid.operator_context = "INVOKE_REGION_WIN"
        for operator, icon in BY_MOUSE:
            grid.operator(operator, icon=icon)
        grid.operator("counterpoise.look_at", text="Look at Cursor", icon="PIVOT_CURSOR").at_cursor = True
        column = layout.column(align=True)
        column.operator("counterpoise.mirror_pose", icon="MOD_MIRROR")
        row = column.column(align=True) if is_narrow(context) else column.row(align=True)
        row.operator("counterpoise.flip_side", text="Left to Right", icon="TRIA_RIGHT").direction = "LEFT_TO_RIGHT"
        row.operator("counterpoise.flip_side", text="Right to Left", icon="TRIA_LEFT").direction = "RIGHT_TO_LEFT"
        column = layout.column(align=True)
        column.operator("counterpoise.neutral_chain", icon="LOOP_BACK")
        column.operator("counterpoise.nearest_allowed", icon="CON_ROTLIMIT")
        row = column.row(align=True)
        row.operator_context = "INVOKE_REGION_WIN"
        row.operator("counterpoise.blend_pose", icon="ARROW_LEFTRIGHT")


class COUNTERPOISE_PT_references(Tab, bpy.types.Panel):
    """Pictures behind the view, to pose by"""

    bl_idname = "COUNTERPOISE_PT_references"
    bl_label = "Reference Pictures"
    bl_parent_id = "COUNTERPOISE_PT_posing_tools"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        for picture in list_references(context.scene):
            row = layout.row(align=True)
            row.label(text=picture.name)
            row.prop(picture, "color", index=3, text="Opacity", slider=True)
            row.prop(picture, "hide_viewport", text="")
            row.operator("counterpoise.remove_reference", text="", icon="X").name = picture.name
        layout.operator("counterpoise.add_reference", icon="IMAGE_REFERENCE")


class COUNTERPOISE_MT_posing(bpy.types.Menu):
    """Tools that pose joints and chains, and keep to their limits"""

    bl_idname = "COUNTERPOISE_MT_posing"
    bl_label = "Counterpoise"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator_context = "INVOKE_REGION_WIN"
        for operator, icon in BY_MOUSE:
            layout.operator(operator, icon=icon)
        layout.operator("counterpoise.look_at", text="Look at Cursor", icon="PIVOT_CURSOR").at_cursor = True
        layout.separator()
        layout.operator("counterpoise.mirror_pose", icon="MOD_MIRROR")
        layout.operator_menu_enum("counterpoise.flip_side", "direction")
        layout.operator("counterpoise.blend_pose", icon="ARROW_LEFTRIGHT")
        layout.separator()
        layout.operator("counterpoise.neutral_chain", icon="LOOP_BACK")
        layout.operator("counterpoise.nearest_allowed", icon="CON_ROTLIMIT")


def draw_menu(menu: bpy.types.Menu, context: bpy.types.Context) -> None:
    """At the end of the view's Pose menu, where the scene holds a skeleton."""
    if context.scene.counterpoise.document is not None:
        menu.layout.separator()
        menu.layout.menu("COUNTERPOISE_MT_posing")


CLASSES = (COUNTERPOISE_PT_posing_tools, COUNTERPOISE_PT_references, COUNTERPOISE_MT_posing)


def register() -> None:
    for own in CLASSES:
        bpy.utils.register_class(own)
    bpy.types.VIEW3D_MT_pose.append(draw_menu)


def unregister() -> None:
    bpy.types.VIEW3D_MT_pose.remove(draw_menu)
    for own in reversed(CLASSES):
        bpy.utils.unregister_class(own)
