"""Where Blender's users look: the view's menus, which the search for commands (F3) goes through, and the File menu."""

from __future__ import annotations

import bpy

DOCUMENT = "Skeleton Document (.json)"

MODES = ("OBJECT", "POSE")
"""In which the view has the menu also where the scene has no skeleton."""

BEGINNING = (
    ("counterpoise.open_demo", "OUTLINER_OB_ARMATURE"),
    ("counterpoise.choose_scans", "FILE_FOLDER"),
    ("counterpoise.open_document", "FILE"),
)
SKELETON = (
    *(("counterpoise.survey_folder", "VIEWZOOM"), ("counterpoise.import_skeleton", "ARMATURE_DATA")),
    *(("counterpoise.build_rig", "FILE_REFRESH"), ("counterpoise.check_meshes", "CHECKMARK"), None),
    *(("counterpoise.audit_orientation", "NONE"), ("counterpoise.put_right", "NONE"), None),
    *(("counterpoise.set_joint", "NONE"), ("counterpoise.search_joint", "NONE"), ("counterpoise.mark_facet", "NONE")),
    *(("counterpoise.disc_thickness", "NONE"), ("counterpoise.straddle", "NONE"), None),
    *(("counterpoise.assemble", "NONE"), ("counterpoise.add_bone", "NONE"), ("counterpoise.place_element", "NONE")),
    *(None, ("counterpoise.remove_skeleton", "TRASH")),
)
POSE = (
    *(("counterpoise.reset_pose", "LOOP_BACK"), ("counterpoise.stand", "ANCHOR_BOTTOM")),
    ("counterpoise.plant_feet", "TRIA_DOWN_BAR"),
    *(("counterpoise.add_contact", "NONE"), ("counterpoise.add_reference", "IMAGE_REFERENCE"), None),
    *(("counterpoise.save_pose", "ADD"),),
)
POSES = (
    *(("counterpoise.compare_poses", "SPREADSHEET"), ("counterpoise.write_poses_page", "FILE")),
    *(("counterpoise.poses_to_keyframes", "KEYFRAME_HLT"), None),
    *(("counterpoise.check_clearance", "NONE"), ("counterpoise.measure_wind", "NONE")),
)
CAST_AND_SITE = (
    *(("counterpoise.cast", "NONE"), ("counterpoise.set_alloy", "MATERIAL"), ("counterpoise.weigh", "NONE")),
    *(("counterpoise.set_discs", "NONE"), ("counterpoise.lay_steelwork", "NONE"), None),
    *(("counterpoise.set_site", "NONE"), ("counterpoise.set_wind", "NONE"), ("counterpoise.set_factors", "NONE")),
    ("counterpoise.add_action", "NONE"),
)
FILES = (
    *(("counterpoise.open_document", "FILE_FOLDER"), ("counterpoise.save_document", "FILE_TICK")),
    ("counterpoise.hand_over", "EXPORT"),
)

Lines = tuple[tuple[str, str] | None, ...]
"""Operators with their icons; None: a line between."""


class COUNTERPOISE_MT_view(bpy.types.Menu):
    """All steps, in the order of the work"""

    bl_idname = "COUNTERPOISE_MT_view"
    bl_label = "Counterpoise"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        if context.scene.counterpoise.document is None:
            draw_lines(layout, BEGINNING)
            layout.separator()
            layout.menu("COUNTERPOISE_MT_skeleton")
            return
        layout.menu("COUNTERPOISE_MT_skeleton")
        layout.separator()
        layout.menu("COUNTERPOISE_MT_posing", text="Posing Tools")
        draw_lines(layout, POSE)
        layout.menu("COUNTERPOISE_MT_restore")
        layout.separator()
        draw_lines(layout, POSES)
        layout.separator()
        layout.menu("COUNTERPOISE_MT_cast_and_site")
        layout.separator()
        draw_lines(layout, FILES)


class COUNTERPOISE_MT_skeleton(bpy.types.Menu):
    """From the scans to joints and rig, and what is put right by hand"""

    bl_idname = "COUNTERPOISE_MT_skeleton"
    bl_label = "Skeleton"

    def draw(self, context: bpy.types.Context) -> None:
        there = context.scene.counterpoise.document is not None
        draw_lines(self.layout, (BEGINNING[1], *SKELETON) if there else SKELETON[:2])


class COUNTERPOISE_MT_restore(bpy.types.Menu):
    """The saved poses, to bring the rig into"""

    bl_idname = "COUNTERPOISE_MT_restore"
    bl_label = "Restore Pose"

    def draw(self, context: bpy.types.Context) -> None:
        for row in context.scene.counterpoise.poses:
            self.layout.operator("counterpoise.restore_pose", text=row.name, translate=False).name = row.name


class COUNTERPOISE_MT_cast_and_site(bpy.types.Menu):
    """What it is cast in, where it stands, what acts on it"""

    bl_idname = "COUNTERPOISE_MT_cast_and_site"
    bl_label = "Castings and Site"

    def draw(self, _context: bpy.types.Context) -> None:
        draw_lines(self.layout, CAST_AND_SITE)


def draw_lines(layout: bpy.types.UILayout, lines: Lines) -> None:
    """A menu's lines."""
    layout.operator_context = "INVOKE_REGION_WIN"
    for line in lines:
        if line is None:
            layout.separator()
        else:
            layout.operator(line[0], icon=line[1])


def draw_in_view(menu: bpy.types.Menu, context: bpy.types.Context) -> None:
    """In the head of the 3D view, after the mode's own menus."""
    if context.mode in MODES or context.scene.counterpoise.document is not None:
        menu.layout.menu("COUNTERPOISE_MT_view")


def draw_import(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """Under File, Import."""
    menu.layout.operator("counterpoise.open_document", text=DOCUMENT)


def draw_export(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """Under File, Export."""
    menu.layout.operator("counterpoise.save_document", text=DOCUMENT)


CLASSES = (COUNTERPOISE_MT_skeleton, COUNTERPOISE_MT_restore, COUNTERPOISE_MT_cast_and_site, COUNTERPOISE_MT_view)
PLACES = (
    ("VIEW3D_MT_editor_menus", draw_in_view),
    ("TOPBAR_MT_file_import", draw_import),
    ("TOPBAR_MT_file_export", draw_export),
)


def register() -> None:
    for own in CLASSES:
        bpy.utils.register_class(own)
    for place, draw in PLACES:
        getattr(bpy.types, place).append(draw)


def unregister() -> None:
    for place, draw in reversed(PLACES):
        getattr(bpy.types, place).remove(draw)
    for own in reversed(CLASSES):
        bpy.utils.unregister_class(own)
