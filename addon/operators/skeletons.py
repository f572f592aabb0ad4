"""From the table to a skeleton in the scene."""

from __future__ import annotations

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document, text_path
from ..bridge.scene import find_proxies, rebuild_rig, show_document
from ..core_calcs.build.materials import default_build
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.skeleton.table import read_table
from ..core_calcs.statics.site import Site
from ..core_calcs.studies.articulate import articulate, describe_joints
from ..core_calcs.studies.display import make_display_surfaces
from ..core_calcs.studies.survey import survey_folder
from ..properties.paths import PATH_OPTIONS
from ..properties.settings import UNITS
from .step import NeedsSkeleton, Step, follow_progress, part_of, proxy_triangles, require_path

NOTES = "Joints"


class COUNTERPOISE_OT_import_skeleton(Step, bpy.types.Operator):
    """Read the scans by their table, find joints and limits, and build the rig. Takes a while on many elements"""

    bl_idname = "counterpoise.import_skeleton"
    bl_label = "Build Skeleton and Rig"

    folder: bpy.props.StringProperty(
        name="Folder", description="Folder of the mesh files", subtype="DIR_PATH", options=PATH_OPTIONS
    )
    table_path: bpy.props.StringProperty(
        name="Table", description="Element table (CSV)", subtype="FILE_PATH", options=PATH_OPTIONS
    )
    unit: bpy.props.EnumProperty(name="Unit", description="Unit of the files", items=UNITS, default="mm")
    name: bpy.props.StringProperty(name="Name", description="Name of the skeleton; empty: that of the folder")

    def work(self, context: bpy.types.Context) -> str:
        folder = require_path(self.folder, "folder of the scans").absolute()
        progress = follow_progress(context)
        rows = read_table(require_path(self.table_path, "element table"))
        survey = survey_folder(folder, self.unit, part_of(progress, 0.0, 0.3))
        skeleton = articulate(rows, survey, folder, self.name.strip() or folder.name, None, part_of(progress, 0.3, 0.9))
        document = SkeletonDocument(skeleton, (Pose("as scanned"),), default_build(), Site(), ".")
        show_document(context, document, folder, proxy_triangles(), part_of(progress, 0.9, 1.0))
        settings = context.scene.counterpoise
        settings.mesh_folder, settings.unit, settings.table_path = self.folder, self.unit, self.table_path
        notes = bpy.data.texts.get(NOTES) or bpy.data.texts.new(NOTES)
        notes.from_string("\n".join(describe_joints(skeleton)) + "\n")
        moving = sum(joint.moves for joint in skeleton.joints)
        return f"{len(skeleton.elements)} elements, {moving} joints turn; see the text block {NOTES}"


class COUNTERPOISE_OT_build_rig(NeedsSkeleton, Step, bpy.types.Operator):
    """Build the rig anew from the document: bones, limits, proxies that are missing. The live pose is kept"""

    bl_idname = "counterpoise.build_rig"
    bl_label = "Build Rig Again"

    def work(self, context: bpy.types.Context) -> str:
        kept, scene = keep_document(context.scene), context.scene
        document, rig = kept.document, scene.counterpoise.rig
        pose = Pose("neutral") if rig is None else read_scene_pose(context, kept)
        elements = document.skeleton.elements
        proxies = find_proxies(scene, elements)
        missing = [element for element in elements if element.name not in proxies]
        folder = locate_mesh_folder(document, text_path(scene.counterpoise.document))
        surfaces = make_display_surfaces(missing, folder, proxy_triangles(), follow_progress(context))
        rebuild_rig(context, document, pose, surfaces)
        return f"{len(missing)} proxies read again" if missing else ""


CLASSES = (COUNTERPOISE_OT_import_skeleton, COUNTERPOISE_OT_build_rig)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
