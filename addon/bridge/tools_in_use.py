"""Whether the user is in the middle of something with a tool: one of Blender's own, or one that poses."""

from __future__ import annotations

import bpy


def is_tool_in_use(context: bpy.types.Context) -> bool:
    """Whether a tool is at work, a grab or a stroke: nothing may change under its hands, and Esc is the tool's.

    Operators of add-ons are taken to run beside the user, but for those that say `in_hand`.
    """
    running = [operator for window in context.window_manager.windows for operator in window.modal_operators]
    classes = [bpy.types.Operator.bl_rna_get_subclass_py(operator.bl_idname) for operator in running]
    return any(own is None or getattr(own, "in_hand", False) for own in classes)
