"""Which of the scene's skeletons the panel is about, and taking one out."""

from __future__ import annotations

import bpy

from ..bridge.mesh_files import look_for_files
from ..bridge.scene import fit_to_scene
from ..bridge.skeletons import choose_skeleton, remove_active
from ..bridge.strays import find_sharer, part_documents, take_in
from ..translations.phrases import look_up_label, say
from .step import AS_GIVEN, NeedsSkeleton, Step

REMOVE = "Take {skeleton} out of the scene, with its {count} saved poses? The scans stay."


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
            title=look_up_label(self.bl_label),
            message=say(REMOVE, skeleton=name, count=poses),
            confirm_text="Remove",
            icon="WARNING",
        )

    def work(self, context: bpy.types.Context) -> str:
        settings = context.scene.counterpoise
        name, rig = settings.document.name, settings.rig
        if rig is not None and rig == context.view_layer.objects.active and rig.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        remove_active(context.scene)
        return say("{skeleton} is out of the scene", skeleton=name)


class COUNTERPOISE_OT_take_in_skeleton(Step, bpy.types.Operator):
    """Let this scene hold a skeleton that was appended, linked with an override, or duplicated: with its document"""

    bl_idname = "counterpoise.take_in_skeleton"
    bl_label = "Take In Skeleton"

    name: bpy.props.StringProperty(
        name="Skeleton", description="Name of its rig, or of its text block where it has no rig", options=AS_GIVEN
    )

    def work(self, context: bpy.types.Context) -> str:
        document = take_in(context.scene, self.name)
        look_for_files(context.scene)
        fit_to_scene(context)
        return say("{skeleton} is taken in, with the document {document}", skeleton=self.name, document=document)


class COUNTERPOISE_OT_part_documents(NeedsSkeleton, bpy.types.Operator):
    """Give the active skeleton a document of its own, where another scene's skeleton has the same"""

    bl_idname = "counterpoise.part_documents"
    bl_label = "Make Own Document"

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        lack = super().name_lack(context)
        return lack or ("" if find_sharer(context.scene) else "No other scene has a rig of the same document")

    def work(self, context: bpy.types.Context) -> str:
        document = part_documents(context.scene)
        look_for_files(context.scene)
        return say("The skeleton has a document of its own: {document}", document=document)


CLASSES = (
    COUNTERPOISE_OT_take_in_skeleton,
    COUNTERPOISE_OT_part_documents,
    COUNTERPOISE_OT_choose_skeleton,
    COUNTERPOISE_OT_remove_skeleton,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
