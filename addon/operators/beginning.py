"""How somebody begins: with the demo that comes with the add-on, or with scans of their own."""

from __future__ import annotations

from functools import partial

import bpy

from ..bridge.calculations import ReadySkeleton, read_skeleton
from ..bridge.long_work import Calculation
from ..bridge.opened_demo import DOCUMENT, show_demo
from ..bridge.pose_rows import mirror_poses
from ..core_calcs.spatial.errors import DocumentError, SkeletonError
from ..properties.paths import PATH_OPTIONS
from ..translations.phrases import say
from .documents import bring_in
from .long_step import LongStep
from .step import Step, proxy_triangles


class COUNTERPOISE_OT_open_demo(LongStep, bpy.types.Operator):
    """Bring an invented animal into the scene, ready to be posed: rig, limits, four poses, figures. Undo removes it"""

    bl_idname = "counterpoise.open_demo"
    bl_label = "Open Demo"

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        there = holds_skeleton(context.scene)
        lack = say("The scene holds a skeleton: open the demo in a new file, or in another scene") if there else ""
        return super().name_lack(context) or lack

    def prepare(self, _context: bpy.types.Context) -> Calculation:
        if not DOCUMENT.is_file():
            raise DocumentError(str(DOCUMENT), "it is not there", "install the add-on's zip again")
        return partial(read_skeleton, DOCUMENT, proxy_triangles())

    def finish(self, context: bpy.types.Context, found: ReadySkeleton) -> str:
        if holds_skeleton(context.scene):  # brought back by undo meanwhile
            raise SkeletonError("demo", "the scene holds a skeleton", "open it in a new file, or in another scene")
        bring_in(context, found)
        mirror_poses(context.scene)
        show_demo(context)
        return say("The demo is open: J over the view, and the neck turns with the mouse; the figures follow")


def holds_skeleton(scene: bpy.types.Scene) -> bool:
    """Whether a scene has a skeleton, active or resting, or one whose document was deleted."""
    settings = scene.counterpoise
    return bool(settings.document is not None or settings.resting or settings.mark)


class COUNTERPOISE_OT_choose_scans(Step, bpy.types.Operator):
    """Choose the folder of your scans, one mesh file for each bone or several bones a file; nothing is read yet"""

    bl_idname = "counterpoise.choose_scans"
    bl_label = "Choose Scans"

    directory: bpy.props.StringProperty(
        name="Folder", description="Folder of the mesh files", subtype="DIR_PATH", options=PATH_OPTIONS | {"SKIP_SAVE"}
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def work(self, context: bpy.types.Context) -> str:
        if not self.directory.strip():
            raise DocumentError("folder of the scans", "none is given", "choose one")
        context.scene.counterpoise.mesh_folder = self.directory
        return "Now survey the scans (step 1)"


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_OT_open_demo, COUNTERPOISE_OT_choose_scans))
