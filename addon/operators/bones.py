"""Missing bones: made of another that is there, mirrored from the other side or scaled from its row."""

from __future__ import annotations

from functools import partial
from typing import Any

import bpy

from ..bridge.calculations import MadeBone, make_missing
from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.own_cache import open_own_cache
from ..bridge.places import selected_element
from ..bridge.proxies import select_proxies
from ..bridge.records import draft_record
from ..bridge.scene import exchange_document
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.joints_by_hand import keep_turning
from ..core_calcs.studies.new_bones import BoneOrder
from ..translations.catalogues import CORE
from .long_step import AsksFirst
from .meshes import require_same
from .step import AS_GIVEN, NeedsRig, proxy_triangles

WAYS = (
    ("mirrored", "Mirrored", "Of its partner on the other side"),
    ("scaled", "Scaled", "Of a neighbour in its row, as large as the row has it there"),
)


class COUNTERPOISE_OT_add_bone(NeedsRig, AsksFirst, bpy.types.Operator):
    """Make a missing bone of another. Its file goes into the folder `made` beside the scans; it stays marked as made"""

    bl_idname = "counterpoise.add_bone"
    bl_label = "Add Missing Bone"

    writes_files = True

    name: bpy.props.StringProperty(
        name="Name", description="Of the bone; that of its source: a mirrored scan is put right", options=AS_GIVEN
    )
    way: bpy.props.EnumProperty(name="Made", description="How it is made", items=WAYS, options=AS_GIVEN)
    source: bpy.props.StringProperty(name="Of", description="The element whose surface it is made of", options=AS_GIVEN)
    parent: bpy.props.StringProperty(
        name="Parent",
        translation_context=CORE,
        description="What it hangs on; empty: as its partner does, or its neighbours in the row",
        options=AS_GIVEN,
    )
    position: bpy.props.IntProperty(
        name="Position",
        description="In its series; 0: its partner's, or as the name says among its neighbours",
        min=0,
        options=AS_GIVEN,
    )
    reason: bpy.props.StringProperty(
        name="Reason", description="Why, in your words: it stays in the record", options=AS_GIVEN
    )

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        if self.properties.is_property_set("reason"):
            return None
        self.source = self.source or selected_element(context)
        return context.window_manager.invoke_props_dialog(self, title="Add Missing Bone", width=400)

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.prop(self, "name")
        layout.row().prop(self, "way", expand=True)
        for name in ("source", "parent"):
            layout.prop_search(self, name, settings, "castings", icon="BONE_DATA")
        layout.prop(self, "position")
        layout.prop(self, "reason")

    def answers(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in ("name", "way", "source", "parent", "position", "reason")}

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        if not self.source.strip():
            raise SkeletonError(
                self.name or "bone",
                "nothing is named that it is to be made of",
                "name the element whose surface it takes",
            )
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
        self.digest = kept.digest
        return partial(
            make_missing, kept.document, folder, self.read_order(context), proxy_triangles(), open_own_cache()
        )

    def read_order(self, context: bpy.types.Context) -> BoneOrder:
        """What was asked for."""
        told, position = draft_record(context.scene, self.reason.strip()), self.position or None
        given = (self.name, self.way, self.source, told.why, told.by, told.when)
        return BoneOrder(*given, self.parent, position)

    def finish(self, context: bpy.types.Context, found: MadeBone) -> str:
        require_same(context, self.digest)
        live = read_scene_pose(context, keep_document(context.scene))
        document = found.document
        exchange_document(context, document, keep_turning(live, document.skeleton), found.surfaces)
        select_proxies(context, (found.name,), look=False)
        return f"{found.name}: {document.records[-1].what}"


CLASSES = (COUNTERPOISE_OT_add_bone,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
