"""The document's poses."""

from __future__ import annotations

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document, write_text
from ..core_calcs.document.editing import add_pose, remove_pose, replace_pose
from .step import NeedsRig, NeedsSkeleton, Step


class COUNTERPOISE_OT_save_pose(NeedsRig, Step, bpy.types.Operator):
    """Keep the pose of the rig in the document, with its figures beside the others"""

    bl_idname = "counterpoise.save_pose"
    bl_label = "Save Pose"

    name: bpy.props.StringProperty(name="Name", description="Name of the pose; empty: the next number")
    overwrite: bpy.props.BoolProperty(name="Overwrite", description="Replace a pose of the same name", default=False)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        taken = {pose.name for pose in document.poses}
        name = self.name.strip() or next(f"Pose {n}" for n in range(1, len(taken) + 2) if f"Pose {n}" not in taken)
        pose = read_scene_pose(context, keep_document(context.scene), name)
        change = replace_pose if self.overwrite and name in taken else add_pose
        write_text(context.scene.counterpoise.document, change(document, pose))
        context.scene.counterpoise.pose_name = ""
        return f"Saved pose {name}"


class COUNTERPOISE_OT_delete_pose(NeedsSkeleton, Step, bpy.types.Operator):
    """Take a saved pose out of the document; the rig stays as it is"""

    bl_idname = "counterpoise.delete_pose"
    bl_label = "Delete Pose"

    name: bpy.props.StringProperty(name="Pose", description="Name of the saved pose")

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        write_text(context.scene.counterpoise.document, remove_pose(document, self.name))
        return f"Deleted pose {self.name}"


CLASSES = (COUNTERPOISE_OT_save_pose, COUNTERPOISE_OT_delete_pose)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
