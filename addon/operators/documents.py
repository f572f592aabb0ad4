"""Skeleton documents in files: what the add-on writes the command line reads, and back."""

from __future__ import annotations

import bpy

from ..bridge.kept_document import keep_document, move_document, text_path
from ..bridge.scene import show_document
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.document.reading import read_document, write_document
from ..properties.paths import PATH_OPTIONS
from .step import NeedsSkeleton, Step, follow_progress, proxy_triangles, require_path


class COUNTERPOISE_OT_open_document(Step, bpy.types.Operator):
    """Bring a skeleton document and the rig for it into the scene"""

    bl_idname = "counterpoise.open_document"
    bl_label = "Open Skeleton Document"

    filepath: bpy.props.StringProperty(name="Document", subtype="FILE_PATH", options=PATH_OPTIONS)
    filter_glob: bpy.props.StringProperty(default="*.json", options={"HIDDEN"})

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def work(self, context: bpy.types.Context) -> str:
        path = require_path(self.filepath, "skeleton document")
        document = read_document(path)
        show_document(
            context, document, locate_mesh_folder(document, path).resolve(), proxy_triangles(), follow_progress(context)
        )
        return f"Opened {path.name}: {len(document.skeleton.elements)} elements, {len(document.poses)} poses"


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
        return f"Wrote {path.name}"


CLASSES = (COUNTERPOISE_OT_open_document, COUNTERPOISE_OT_save_document)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
