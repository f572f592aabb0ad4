"""The hand-over to other trades."""

from __future__ import annotations

import bpy

from ..bridge.kept_document import keep_document, text_path
from ..core_calcs.handover.handover_set import write_handover
from ..properties.paths import PATH_OPTIONS
from .step import NeedsSkeleton, Step, follow_progress, require_path


class COUNTERPOISE_OT_hand_over(NeedsSkeleton, Step, bpy.types.Operator):
    """Write posed meshes from the full-resolution files, tables and a report, for each pose named"""

    bl_idname = "counterpoise.hand_over"
    bl_label = "Write Hand-over"

    folder: bpy.props.StringProperty(
        name="Folder", description="Folder to write", subtype="DIR_PATH", options=PATH_OPTIONS
    )
    poses: bpy.props.StringProperty(name="Poses", description="Names of saved poses, one a line; empty: all of them")

    def work(self, context: bpy.types.Context) -> str:
        folder = require_path(self.folder, "hand-over folder")
        document = keep_document(context.scene).document
        names = [line.strip() for line in self.poses.splitlines() if line.strip()] or None
        path = text_path(context.scene.counterpoise.document)
        written = write_handover(document, path, folder, names, follow_progress(context))
        return f"Hand-over written to {written}"


CLASSES = (COUNTERPOISE_OT_hand_over,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
