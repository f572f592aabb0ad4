"""Whether the user is in the middle of something with one of Blender's own tools."""

from __future__ import annotations

import bpy


def is_tool_in_use(context: bpy.types.Context) -> bool:
    """Whether one of Blender's own tools is at work, a grab or a stroke: nothing may change under its hands."""
    running = [operator for window in context.window_manager.windows for operator in window.modal_operators]
    return any(bpy.types.Operator.bl_rna_get_subclass_py(operator.bl_idname) is None for operator in running)
