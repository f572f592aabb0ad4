"""The steps: scans, skeleton, pose, hand-over."""

from __future__ import annotations

import bpy

from ..bridge.mesh_files import wrong_files
from ..bridge.strays import list_strays
from ..translations.phrases import say
from .skeletons import draw_skeletons, draw_strays
from .tab import Tab, show_path, write_choices, write_wrapped

FEW = 3
"""So many files are named."""


def has_scans(scene: bpy.types.Scene) -> bool:
    """Whether the user has begun with scans: named their folder or table, or read a table."""
    settings = scene.counterpoise
    return bool(settings.mesh_folder or settings.table_path or settings.elements)


class COUNTERPOISE_PT_scans(Tab, bpy.types.Panel):
    """From the scans to a skeleton"""

    bl_idname = "COUNTERPOISE_PT_scans"
    bl_label = "1  Scans and Table"
    bl_order = 0

    # No poll: a panel that Blender shows for the first time goes right behind the one shown before it, the others move
    # down. This one, away while the others come, would stand last in the tab ever after.

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        if settings.document is not None and not has_scans(context.scene):
            told = "This skeleton came as a document. To build another, choose its scans."
            write_wrapped(layout, context, told, "INFO")
            layout.operator("counterpoise.choose_scans", icon="FILE_FOLDER")
            return
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(settings, "mesh_folder")
        show_path(layout, context, settings.mesh_folder)
        layout.prop(settings, "unit")
        layout.prop(settings, "table_path")
        show_path(layout, context, settings.table_path)
        layout.prop(settings, "expected", placeholder="caudal=44, rib=24")
        column = layout.column(align=True)
        column.enabled = bool(settings.mesh_folder)
        survey = column.operator("counterpoise.survey_folder", icon="VIEWZOOM")
        survey.folder, survey.unit, survey.table_path = settings.mesh_folder, settings.unit, settings.table_path
        survey.expected = settings.expected
        if not settings.mesh_folder:
            write_wrapped(layout, context, "Choose the folder of the scans.", "INFO")


class COUNTERPOISE_PT_skeleton(Tab, bpy.types.Panel):
    """From the table to joints and a rig"""

    bl_idname = "COUNTERPOISE_PT_skeleton"
    bl_label = "2  Skeleton"
    bl_order = 1

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        settings = context.scene.counterpoise
        there = settings.document is not None or bool(settings.mark) or bool(settings.resting)
        return there or has_scans(context.scene) or bool(list_strays(context.scene))

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        if settings.mesh_folder:
            name = layout.row()
            name.use_property_split, name.use_property_decorate = True, False
            name.prop(settings, "skeleton_name", placeholder=bpy.path.basename(settings.mesh_folder.rstrip("/\\")))
            layout.prop(settings, "loose_scans")
        column = layout.column(align=True)
        build = column.row(align=True)
        build.enabled = bool(settings.mesh_folder and settings.table_path)
        made = build.operator("counterpoise.import_skeleton", icon="ARMATURE_DATA")
        made.folder, made.table_path, made.unit = settings.mesh_folder, settings.table_path, settings.unit
        made.name, made.loose = settings.skeleton_name, settings.loose_scans
        column.operator("counterpoise.open_document", icon="FILE_FOLDER")
        draw_skeletons(layout, context)
        draw_strays(layout, context)
        if settings.document is None:
            write_wrapped(layout, context, _say_what_is_next(settings), "INFO")
            return
        column.operator("counterpoise.save_document", icon="FILE_TICK")
        column.operator("counterpoise.build_rig", icon="FILE_REFRESH")
        column.operator("counterpoise.check_meshes", icon="CHECKMARK")
        _draw_wrong_files(layout, context)
        layout.prop(settings, "hold_limits")
        write_choices(layout, context, say("Colours")).prop(settings, "colours", expand=True)


def _say_what_is_next(settings: bpy.types.PropertyGroup) -> str:
    """What is needed before there is a skeleton."""
    if not settings.mesh_folder:
        return say("Choose the scans (step 1), or open a skeleton document.")
    if not settings.table_path:
        return say("Survey the scans (step 1), or open a skeleton document.")
    if settings.table_edited:
        return say("Write the table (step 1): the skeleton is built from the file.")
    return say("Look through the elements (step 1), then build. Some hundred elements take some minutes.")


def _draw_wrong_files(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What cannot be found or was changed, and the way out."""
    wrong = wrong_files(context.scene)
    if not wrong:
        return
    box = layout.box()
    few = ", ".join(wrong[:FEW]) + (say(" and {count} more", count=len(wrong) - FEW) if len(wrong) > FEW else "")
    write_wrapped(box, context, say("Mesh files: {files}. The hand-over needs them all.", files=few), "ERROR")
    box.operator("counterpoise.find_meshes", icon="FILE_FOLDER")


class COUNTERPOISE_PT_pose(Tab, bpy.types.Panel):
    """Posing"""

    bl_idname = "COUNTERPOISE_PT_pose"
    bl_label = "3  Pose"
    bl_order = 2

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        if context.mode != "POSE":
            in_hand = settings.rig is not None and settings.rig == context.object
            begin = "" if in_hand else say("Select the rig.") + " "
            way = say("Ctrl Tab leads to pose mode: turn the bones with R.")
            write_wrapped(layout, context, begin + way, "INFO")
        column = layout.column(align=True)
        column.operator("counterpoise.reset_pose", icon="LOOP_BACK")
        column.operator("counterpoise.stand", icon="ANCHOR_BOTTOM")
        column.operator("counterpoise.plant_feet", icon="TRIA_DOWN_BAR")
        row = layout.row(align=True)
        row.prop(settings, "pose_name", text="")
        row.operator("counterpoise.save_pose", icon="ADD").name = settings.pose_name
        layout.prop(settings.overlays, "ranges")


class COUNTERPOISE_PT_handover(Tab, bpy.types.Panel):
    """What other trades need"""

    bl_idname = "COUNTERPOISE_PT_handover"
    bl_label = "6  Hand-over"
    bl_order = 5

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(settings, "handover_folder")
        show_path(layout, context, settings.handover_folder)
        row = layout.row()
        row.enabled = bool(settings.handover_folder)
        row.operator("counterpoise.hand_over", icon="EXPORT").folder = settings.handover_folder


CLASSES = (COUNTERPOISE_PT_scans, COUNTERPOISE_PT_skeleton, COUNTERPOISE_PT_pose, COUNTERPOISE_PT_handover)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
