"""Esc while the pose is checked at rest, and what begins it anew."""

from __future__ import annotations

import bpy

from ..bridge.resting import check_again, find_left, running_checks, stop_checks
from ..bridge.tools_in_use import is_tool_in_use

INTERVAL_S = 0.2


class COUNTERPOISE_OT_heed_escape(bpy.types.Operator):
    """Stop what is being checked of the pose at rest when Esc is pressed; every other event passes"""

    bl_idname = "counterpoise.heed_escape"
    bl_label = "Stop Checking the Pose"
    bl_options = {"INTERNAL"}  # noqa: RUF012  no UNDO: nothing is written

    timer = None

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        manager = context.window_manager
        self.timer = manager.event_timer_add(INTERVAL_S, window=context.window)
        manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if running_checks() is None:
            self.cancel(context)
            return {"FINISHED", "PASS_THROUGH"}
        if event.type == "ESC" and event.value == "PRESS" and not is_tool_in_use(context):
            stop_checks()
            self.cancel(context)
            return {"CANCELLED"}
        return {"PASS_THROUGH"}

    def cancel(self, context: bpy.types.Context) -> None:
        """The window closes, or nothing is left to stop."""
        if self.timer is not None:
            context.window_manager.event_timer_remove(self.timer)
            self.timer = None


class COUNTERPOISE_OT_check_again(bpy.types.Operator):
    """Check the live pose and the saved ones beside Blender: begun anew after it was stopped, or failed"""

    bl_idname = "counterpoise.check_again"
    bl_label = "Check Again"
    bl_options = {"INTERNAL"}  # noqa: RUF012  no UNDO: nothing is written

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return find_left(context.scene) is not None

    def execute(self, _context: bpy.types.Context) -> set[str]:
        check_again()
        return {"FINISHED"}


CLASSES = (COUNTERPOISE_OT_heed_escape, COUNTERPOISE_OT_check_again)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
