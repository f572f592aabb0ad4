"""From the table to a skeleton in the scene."""

from __future__ import annotations

from functools import partial
from typing import ClassVar

import bpy

from ..bridge.calculations import ReadySkeleton, build_skeleton
from ..bridge.colour_faults import word_colour_faults
from ..bridge.element_list import fill_list, require_written, write_found
from ..bridge.figures import recover_scene_pose
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.own_cache import open_own_cache
from ..bridge.scene import bring_back_rig, find_proxies, rebuild_rig, show_document
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.studies.articulate import describe_joints
from ..core_calcs.studies.display import Surface, make_display_surfaces
from ..properties.paths import PATH_OPTIONS
from ..properties.settings import UNITS
from ..translations.phrases import say
from .long_step import LongStep
from .meshes import require_same
from .step import NeedsSkeleton, proxy_triangles, require_path

NOTES = "Joints"


class COUNTERPOISE_OT_import_skeleton(LongStep, bpy.types.Operator):
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

    loose: bpy.props.BoolProperty(
        name="Loose Scans",
        description="The column's elements stand anywhere, each as its scanner had it: they wait to be assembled",
        default=False,
    )

    from_scene: ClassVar = {
        "folder": "mesh_folder",
        "unit": "unit",
        "table_path": "table_path",
        "name": "skeleton_name",
        "loose": "loose_scans",
    }

    def prepare(self, context: bpy.types.Context) -> Calculation:
        folder = require_path(self.folder, "folder of the scans").absolute()
        table = require_path(self.table_path, "element table")
        require_written(context.scene.counterpoise, table)
        name = self.name.strip() or folder.name
        return partial(build_skeleton, folder, table, self.unit, name, self.loose, proxy_triangles(), open_own_cache())

    def finish(self, context: bpy.types.Context, found: ReadySkeleton) -> str:
        show_document(context, found.document, found.mesh_folder, found.surfaces)
        settings, skeleton = context.scene.counterpoise, found.document.skeleton
        settings.mesh_folder, settings.unit, settings.table_path = self.folder, self.unit, self.table_path
        if not settings.table_edited:  # what was edited meanwhile stays
            table, scans = require_path(self.table_path, "element table"), found.scans
            of_rows = [write_found(problems) for problems in scans.found]
            fill_list(settings, scans.rows, scans.meshes, of_rows, table, scans.digest, scans.unnamed)
        notes = bpy.data.texts.get(NOTES) or bpy.data.texts.new(NOTES)
        told = [*describe_joints(skeleton), *filter(None, [found.from_cache])]
        notes.from_string("\n".join(told) + "\n")
        if plain := word_colour_faults(found.surfaces):
            self.report({"WARNING"}, plain)
        moving = sum(joint.moves for joint in skeleton.joints)
        counts = {"elements": len(skeleton.elements), "joints": moving}
        told = "{elements} elements, {joints} joints turn. What to look at is in the text block {name}"
        return say(told, name=NOTES, **counts)


class COUNTERPOISE_OT_build_rig(NeedsSkeleton, LongStep, bpy.types.Operator):
    """Build the rig anew from the document: bones, limits, proxies that are missing. The live pose is kept"""

    bl_idname = "counterpoise.build_rig"
    bl_label = "Build Rig Again"

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept, scene = keep_document(context.scene), context.scene
        elements = kept.document.skeleton.elements
        proxies = find_proxies(scene, elements)
        missing = [element for element in elements if element.name not in proxies]
        folder = locate_mesh_folder(kept.document, text_path(scene.counterpoise.document))
        self.digest = kept.digest
        return partial(make_display_surfaces, missing, folder, proxy_triangles())

    def finish(self, context: bpy.types.Context, found: dict[str, Surface]) -> str:
        require_same(context, self.digest)
        kept = keep_document(context.scene)
        bring_back_rig(context)
        rebuild_rig(context, kept.document, recover_scene_pose(context, kept), found)
        if plain := word_colour_faults(found):
            self.report({"WARNING"}, plain)
        return say("{count} proxies read again", count=len(found)) if found else ""


CLASSES = (COUNTERPOISE_OT_import_skeleton, COUNTERPOISE_OT_build_rig)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
