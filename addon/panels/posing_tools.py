"""The artist's tools to pose with, in the sidebar and in the view's Pose menu."""

from __future__ import annotations

import bpy

from .tab import Tab


class COUNTERPOISE_PT_posing_tools(Tab, bpy.types.Panel):
    """Tools that pose joints and chains, and keep to their limits"""

    bl_idname = "COUNTERPOISE_PT_posing_tools"
    bl_label = "Posing Tools"
    bl_parent_id = "COUNTERPOISE_PT_pose"
    bl_order = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, _context: bpy.types.Context) -> None:
        column = self.layout.column(align=True)
        column.operator_context = "INVOKE_REGION_WIN"  # they follow the mouse over the view
        column.operator("counterpoise.turn_joint", icon="ORIENTATION_GIMBAL")


class COUNTERPOISE_MT_posing(bpy.types.Menu):
    """Tools that pose joints and chains, and keep to their limits"""

    bl_idname = "COUNTERPOISE_MT_posing"
    bl_label = "Counterpoise"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator_context = "INVOKE_REGION_WIN"
        layout.operator("counterpoise.turn_joint", icon="ORIENTATION_GIMBAL")


def draw_menu(menu: bpy.types.Menu, context: bpy.types.Context) -> None:
    """At the end of the view's Pose menu, where the scene holds a skeleton."""
    if context.scene.counterpoise.document is not None:
        menu.layout.separator()
        menu.layout.menu("COUNTERPOISE_MT_posing")


CLASSES = (COUNTERPOISE_PT_posing_tools, COUNTERPOISE_MT_posing)


def register() -> None:
    for own in CLASSES:
        bpy.utils.register_class(own)
    bpy.types.VIEW3D_MT_pose.append(draw_menu)


def unregister() -> None:
    bpy.types.VIEW3D_MT_pose.remove(draw_menu)
    for own in reversed(CLASSES):
        bpy.utils.unregister_class(own)
