"""Which of the scene's skeletons the panel is about, and taking one out."""

from __future__ import annotations

import bpy

from ..bridge.skeletons import choose_skeleton, remove_active
from .step import AS_GIVEN, NeedsSkeleton, Step


class COUNTERPOISE_OT_choose_skeleton(Step, bpy.types.Operator):
    """Make this skeleton the active one: the panel and all steps are about it"""

    bl_idname = "counterpoise.choose_skeleton"
    bl_label = "Choose Skeleton"

    name: bpy.props.StringProperty(
        name="Skeleton", description="Name of the text block that holds its document", options=AS_GIVEN
    )

    def work(self, context: bpy.types.Context) -> str:
        choose_skeleton(context.scene, self.name)
        return ""


class COUNTERPOISE_OT_remove_skeleton(NeedsSkeleton, bpy.types.Operator):
    """Take the active skeleton out of the scene: its document with all saved poses, rig and elements"""

    bl_idname = "counterpoise.remove_skeleton"
    bl_label = "Remove Skeleton"

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        name, poses = context.scene.counterpoise.document.name, len(context.scene.counterpoise.poses)
        return context.window_manager.invoke_confirm(
            self,
            event,
            title=self.bl_label,
            message=f"Take {name} out of the scene, with its {poses} saved poses? The scans stay.",
            confirm_text="Remove",
            icon="WARNING",
        )

    def work(self, context: bpy.types.Context) -> str:
        settings = context.scene.counterpoise
        name, rig = settings.document.name, settings.rig
        if rig is not None and rig == context.view_layer.objects.active and rig.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        remove_active(context.scene)
        return f"{name} is out of the scene"


CLASSES = (COUNTERPOISE_OT_choose_skeleton, COUNTERPOISE_OT_remove_skeleton)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
