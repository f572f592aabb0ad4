"""The document's poses: each operator writes a new document into the text block and selects the pose it made."""

from __future__ import annotations

from dataclasses import replace

import bpy

from ..bridge.figures import drawn_figures, read_scene_pose, refresh_figures
from ..bridge.kept_document import keep_document, write_text
from ..bridge.pose_order import is_own_order, order_rows
from ..bridge.pose_rows import select_pose
from ..core_calcs.document import editing
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.corrections import last_correction
from ..translations.phrases import look_up, look_up_label, say
from .step import AS_GIVEN, NeedsRig, NeedsSkeleton


class NamesPose(NeedsSkeleton):
    """Mixed into an operator that changes one saved pose of the document."""

    name: bpy.props.StringProperty(name="Pose", description="Name of the saved pose", options=AS_GIVEN)

    def confirm(self, context: bpy.types.Context, event: bpy.types.Event, message: str, verb: str) -> set[str]:
        """Ask before the work is done."""
        return context.window_manager.invoke_confirm(
            self, event, title=look_up_label(self.bl_label), message=message, confirm_text=verb, icon="WARNING"
        )


class COUNTERPOISE_OT_save_pose(NeedsRig, NamesPose, bpy.types.Operator):
    """Keep the pose of the rig in the document, with its figures beside the others"""

    bl_idname = "counterpoise.save_pose"
    bl_label = "Save Pose"

    name: bpy.props.StringProperty(
        name="Name", description="Name of the pose; empty: the next number", options=AS_GIVEN
    )
    overwrite: bpy.props.BoolProperty(
        name="Overwrite", description="Replace a pose of the same name; its note stays", default=False, options=AS_GIVEN
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        if properties.overwrite:
            return look_up("Replace the saved pose by the pose of the rig; its name and note stay")
        return look_up(cls.__doc__)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if self.overwrite and context.scene.counterpoise.poses.find(self.name) >= 0:
            return self.confirm(
                context, event, say("Replace {pose} by the pose of the rig?", pose=self.name), look_up("Save Over")
            )
        return self.execute(context)

    def work(self, context: bpy.types.Context) -> str:
        kept = keep_document(context.scene)
        document, taken = kept.document, {pose.name: pose for pose in kept.document.poses}
        name = self.name.strip() or _number_pose(taken)
        pose = read_scene_pose(context, kept, name)
        if self.overwrite and name in taken:
            changed = editing.replace_pose(document, replace(pose, note=taken[name].note))
        else:
            changed = editing.add_pose(document, pose)
        change_document(context, changed, name)
        context.scene.counterpoise.pose_name = ""
        return say("Saved pose {pose}", pose=name)


class COUNTERPOISE_OT_rename_pose(NamesPose, bpy.types.Operator):
    """Give a saved pose another name"""

    bl_idname = "counterpoise.rename_pose"
    bl_label = "Rename Pose"

    new_name: bpy.props.StringProperty(name="New Name", description="No other pose may have it", options=AS_GIVEN)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.new_name = self.name
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.prop(self, "new_name")

    def work(self, context: bpy.types.Context) -> str:
        document, new_name = keep_document(context.scene).document, self.new_name.strip()
        change_document(context, editing.rename_pose(document, self.name, new_name), new_name)
        return say("{pose} is now {new_name}", pose=self.name, new_name=new_name)


class COUNTERPOISE_OT_duplicate_pose(NamesPose, bpy.types.Operator):
    """Put a copy of a saved pose after it"""

    bl_idname = "counterpoise.duplicate_pose"
    bl_label = "Duplicate Pose"

    new_name: bpy.props.StringProperty(
        name="New Name", description="Name of the copy; empty: the first that is free", options=AS_GIVEN
    )

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        name = self.new_name.strip() or editing.propose_name(document, f"{self.name} copy")
        change_document(context, editing.duplicate_pose(document, self.name, name), name)
        return say("{copy} is a copy of {pose}", copy=name, pose=self.name)


class COUNTERPOISE_OT_move_pose(NamesPose, bpy.types.Operator):
    """Move a saved pose in the list"""

    bl_idname = "counterpoise.move_pose"
    bl_label = "Move Pose"

    places: bpy.props.IntProperty(
        name="Places", description="How far down; below zero: up", default=1, options=AS_GIVEN
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        up, down = look_up("Move the saved pose up in the list"), look_up("Move the saved pose down in the list")
        return up if properties.places < 0 else down

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        change_document(context, editing.move_pose(document, self.name, self.places), self.name)
        return ""


class COUNTERPOISE_OT_keep_pose_order(NeedsSkeleton, bpy.types.Operator):
    """Keep the saved poses in the order in which the list is sorted now"""

    bl_idname = "counterpoise.keep_pose_order"
    bl_label = "Keep This Order"

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        if lack := super().name_lack(context):
            return lack
        return "The list shows the order that is kept" if is_own_order(context.scene) else ""

    def work(self, context: bpy.types.Context) -> str:
        refresh_figures(context)
        settings = context.scene.counterpoise
        names = [settings.poses[i].name for i in order_rows(context.scene)]
        at = settings.pose_index
        selected = settings.poses[at].name if 0 <= at < len(settings.poses) else ""
        change_document(context, editing.order_poses(keep_document(context.scene).document, names), selected)
        settings.pose_list.sort, settings.pose_list.reverse = "OWN", False
        return "The poses are kept in this order"


class COUNTERPOISE_OT_select_pose(NeedsSkeleton, bpy.types.Operator):
    """Choose this saved pose in the list; the rig stays as it is"""

    bl_idname = "counterpoise.select_pose"
    bl_label = "Select Pose"

    name: bpy.props.StringProperty(name="Pose", description="Name of the saved pose", options=AS_GIVEN)

    @classmethod
    def description(cls, context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        shown = next((own for own in drawn_figures(context.scene)[1] if own.pose == properties.name), None)
        return (shown.note if shown else "") or look_up(cls.__doc__)

    def work(self, context: bpy.types.Context) -> str:
        pose = editing.find_pose(keep_document(context.scene).document, self.name)
        select_pose(context.scene, pose.name)
        return ""


class COUNTERPOISE_OT_note_pose(NamesPose, bpy.types.Operator):
    """Write a note on a saved pose: it stays with the pose in the document"""

    bl_idname = "counterpoise.note_pose"
    bl_label = "Note on Pose"

    note: bpy.props.StringProperty(name="Note", description="In your words; empty: none", options=AS_GIVEN)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        poses = keep_document(context.scene).document.poses
        self.note = next((pose.note for pose in poses if pose.name == self.name), "")
        return context.window_manager.invoke_props_dialog(self, width=420)

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.label(text=self.name, icon="ARMATURE_DATA")
        self.layout.prop(self, "note")

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        change_document(context, editing.note_pose(document, self.name, self.note.strip()), self.name)
        return ""


class COUNTERPOISE_OT_delete_pose(NamesPose, bpy.types.Operator):
    """Take a saved pose out of the document; the rig stays as it is"""

    bl_idname = "counterpoise.delete_pose"
    bl_label = "Delete Pose"

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        return self.confirm(context, event, say("Take {pose} out of the document?", pose=self.name), look_up("Delete"))

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        refuse_last_mounted(document, self.name)
        change_document(context, editing.remove_pose(document, self.name))
        return say("Deleted pose {pose}", pose=self.name)


def refuse_last_mounted(document: SkeletonDocument, name: str) -> None:
    """Raise SkeletonError where a pose is the last to keep how elements stood before what was put right."""
    mounted = [pose.name for pose in document.poses if pose.mounted]
    if mounted == [name] and last_correction(document) is not None:
        what = "nothing else keeps how the elements were mounted before they were put right"
        raise SkeletonError(f"pose {name}", what, "keep it, or put all corrections back first")


def change_document(context: bpy.types.Context, document: SkeletonDocument, selected: str = "") -> None:
    """Put a changed document into the scene's text block, and select a pose of it in the list."""
    write_text(context.scene.counterpoise.document, document)
    if selected:
        select_pose(context.scene, selected)


def _number_pose(taken: dict[str, Pose]) -> str:
    return next(name for n in range(1, len(taken) + 2) if (name := f"Pose {n}") not in taken)


CLASSES = (
    COUNTERPOISE_OT_save_pose,
    COUNTERPOISE_OT_rename_pose,
    COUNTERPOISE_OT_duplicate_pose,
    COUNTERPOISE_OT_move_pose,
    COUNTERPOISE_OT_keep_pose_order,
    COUNTERPOISE_OT_select_pose,
    COUNTERPOISE_OT_note_pose,
    COUNTERPOISE_OT_delete_pose,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
