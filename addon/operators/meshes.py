"""The mesh files behind a skeleton: whether they are still the same, and where they have gone."""

from __future__ import annotations

from functools import partial

import bpy

from ..bridge.calculations import find_surfaces
from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.mesh_files import note_files, relink_meshes
from ..bridge.scene import find_proxies, rebuild_rig
from ..core_calcs.document.meshes import MeshFileCheck, check_meshes
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import DocumentError
from ..core_calcs.studies.display import Surface
from ..properties.paths import PATH_OPTIONS
from ..translations.phrases import list_few, say
from .long_step import AsksForPath, LongStep
from .step import NeedsSkeleton, proxy_triangles, require_path


class COUNTERPOISE_OT_check_meshes(NeedsSkeleton, LongStep, bpy.types.Operator):
    """Check that every mesh file is still the one that the skeleton was made from (by its SHA-256)"""

    bl_idname = "counterpoise.check_meshes"
    bl_label = "Check Mesh Files"

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        self.digest = kept.digest
        return partial(check_meshes, kept.document, text_path(context.scene.counterpoise.document))

    def finish(self, context: bpy.types.Context, found: list[MeshFileCheck]) -> str:
        require_same(context, self.digest)
        wrong = [str(check) for check in found if check.state != "as recorded"]
        note_files(context.scene.counterpoise.document, wrong)
        if wrong:
            self.report(
                {"WARNING"},
                say(
                    "{count} of {all} mesh files are not as the skeleton knows them: {files}",
                    count=len(wrong),
                    all=len(found),
                    files=list_few(wrong),
                ),
            )
            return ""
        return say("All {count} mesh files are as the skeleton knows them", count=len(found))


class COUNTERPOISE_OT_find_meshes(NeedsSkeleton, AsksForPath, bpy.types.Operator):
    """Point to the folder that the mesh files have gone to. Every file must be the one the skeleton was made from"""

    bl_idname = "counterpoise.find_meshes"
    bl_label = "Find Mesh Files"

    directory: bpy.props.StringProperty(
        name="Folder", description="Folder of the mesh files", subtype="DIR_PATH", options=PATH_OPTIONS | {"SKIP_SAVE"}
    )
    filter_folder: bpy.props.BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})

    asks_for = "directory"

    def prepare(self, context: bpy.types.Context) -> Calculation:
        folder = require_path(self.directory, "folder of the mesh files")
        kept = keep_document(context.scene)
        self.digest = kept.digest
        elements = kept.document.skeleton.elements
        proxies = find_proxies(context.scene, elements)
        lost = [element for element in elements if element.name not in proxies]
        return partial(find_surfaces, kept.document, folder.absolute(), lost, proxy_triangles())

    def finish(self, context: bpy.types.Context, found: dict[str, Surface]) -> str:
        require_same(context, self.digest)
        kept, settings = keep_document(context.scene), context.scene.counterpoise
        folder = require_path(self.directory, "folder of the mesh files").absolute()
        before = settings.document.as_string()
        relink_meshes(settings.document, folder)
        if found:
            try:
                pose = Pose("neutral") if settings.rig is None else read_scene_pose(context, kept)
                rebuild_rig(context, kept.document, pose, found)
            except Exception:
                settings.document.from_string(before)
                raise
        settings.mesh_folder = str(folder)
        files = len({element.source.file for element in kept.document.skeleton.elements})
        return say("{count} mesh files found, each the one the skeleton was made from", count=files)


def require_same(context: bpy.types.Context, digest: str) -> None:
    """Refuse to go on where another skeleton stands there now than when the step began."""
    if keep_document(context.scene).digest != digest:
        raise DocumentError("scene", "its skeleton was changed or another one chosen meanwhile", "do it again")


CLASSES = (COUNTERPOISE_OT_check_meshes, COUNTERPOISE_OT_find_meshes)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
