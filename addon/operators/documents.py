"""Skeleton documents in files: what the add-on writes the command line reads, and back."""

from __future__ import annotations

from functools import partial

import bpy

from ..bridge.calculations import ReadySkeleton, read_skeleton
from ..bridge.colour_faults import word_colour_faults
from ..bridge.kept_document import keep_document, move_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.mesh_files import look_for_files, wrong_files
from ..bridge.scene import show_document
from ..core_calcs.document.reading import write_document
from ..properties.paths import PATH_OPTIONS
from ..translations.phrases import say
from .long_step import AsksForPath
from .step import NeedsSkeleton, Step, proxy_triangles, require_path


class COUNTERPOISE_OT_open_document(AsksForPath, bpy.types.Operator):
    """Bring a skeleton document and the rig for it into the scene"""

    bl_idname = "counterpoise.open_document"
    bl_label = "Open Skeleton Document"

    filepath: bpy.props.StringProperty(name="Document", subtype="FILE_PATH", options=PATH_OPTIONS | {"SKIP_SAVE"})
    filter_glob: bpy.props.StringProperty(default="*.json", options={"HIDDEN"})

    def prepare(self, _context: bpy.types.Context) -> Calculation:
        return partial(read_skeleton, require_path(self.filepath, "skeleton document"), proxy_triangles())

    def finish(self, context: bpy.types.Context, found: ReadySkeleton) -> str:
        bring_in(context, found)
        document = found.document
        name = require_path(self.filepath, "skeleton document").name
        counts = {"elements": len(document.skeleton.elements), "poses": len(document.poses)}
        told = say("Opened {name}: {elements} elements, {poses} poses", name=name, **counts)
        if missing := wrong_files(context.scene):
            self.report({"WARNING"}, say("{count} mesh files are missing: find them (step 2)", count=len(missing)))
        if plain := word_colour_faults(found.surfaces):
            self.report({"WARNING"}, plain)
        return told


def bring_in(context: bpy.types.Context, found: ReadySkeleton) -> None:
    """Show a skeleton that was read, and look for the files behind it."""
    show_document(context, found.document, found.mesh_folder, found.surfaces)
    look_for_files(context.scene)


class COUNTERPOISE_OT_save_document(NeedsSkeleton, Step, bpy.types.Operator):
    """Write the skeleton with its saved poses to a file that the command line reads"""

    bl_idname = "counterpoise.save_document"
    bl_label = "Save Skeleton Document"

    filepath: bpy.props.StringProperty(name="Document", subtype="FILE_PATH", options=PATH_OPTIONS)
    filter_glob: bpy.props.StringProperty(default="*.json", options={"HIDDEN"})

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if not self.filepath:
            self.filepath = "skeleton.json"
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def work(self, context: bpy.types.Context) -> str:
        path = require_path(self.filepath, "skeleton document").absolute()
        document = keep_document(context.scene).document
        write_document(path, move_document(document, text_path(context.scene.counterpoise.document), path))
        return say("Wrote {file}", file=path.name)


CLASSES = (COUNTERPOISE_OT_open_document, COUNTERPOISE_OT_save_document)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
