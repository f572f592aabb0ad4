"""The hand-over to other trades."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import ClassVar

import bpy

from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..core_calcs.handover.handover_set import write_handover
from ..properties.paths import PATH_OPTIONS
from ..translations.phrases import say
from .long_step import LongStep
from .step import NeedsSkeleton, require_path


class COUNTERPOISE_OT_hand_over(NeedsSkeleton, LongStep, bpy.types.Operator):
    """Write posed meshes from the full-resolution files, tables and a report, for each pose named"""

    bl_idname = "counterpoise.hand_over"
    bl_label = "Write Hand-over"

    writes_files = True

    folder: bpy.props.StringProperty(
        name="Folder", description="Folder to write", subtype="DIR_PATH", options=PATH_OPTIONS
    )
    poses: bpy.props.StringProperty(name="Poses", description="Names of saved poses, one a line; empty: all of them")

    from_scene: ClassVar = {"folder": "handover_folder"}

    def prepare(self, context: bpy.types.Context) -> Calculation:
        folder = require_path(self.folder, "hand-over folder")
        document = keep_document(context.scene).document
        names = [line.strip() for line in self.poses.splitlines() if line.strip()] or None
        return partial(write_handover, document, text_path(context.scene.counterpoise.document), folder, names)

    def finish(self, _context: bpy.types.Context, found: Path) -> str:
        return say("Hand-over written to {folder}", folder=found)


CLASSES = (COUNTERPOISE_OT_hand_over,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
