"""A joint's facets and limits found anew by one click, with its own settings or others."""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.joint_in_hand import find_in_hand
from ..bridge.joint_text import tell_found
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.own_cache import open_own_cache
from ..bridge.scene import exchange_document
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.skeleton.joint import LimitSettings
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.joints_by_hand import keep_turning
from ..core_calcs.studies.searched_joints import default_settings, name_hand, search_document_joint
from ..translations.phrases import capitalise, look_up, say, tell
from .long_step import AsksFirst
from .meshes import require_same
from .quantities import ask_percent, read_decimal
from .step import AS_GIVEN, NeedsRig, report_error

SHARES = {
    "overlap": "overlap_share",
    "contact": "contact_share_s",
    "gap": "gap_share_s",
    "slide": "slide_share_s",
}
"""By property of the operator, in percent, the setting that is a share."""

SETTINGS = (*SHARES, "search")
NARROW, WIDE = math.radians(1), math.pi
"""Limits are searched for so far at least, and at most."""
CHOOSE_FIRST = "select its bone in pose mode, or its element in the list"


class ForJoint(NeedsRig):
    """Mixed into an operator that is about one joint: the one named, else the one in hand."""

    def take_joint(self, context: bpy.types.Context) -> str:
        """The child of the joint named or in hand; SkeletonError where there is none."""
        child = self.child or find_in_hand(context)
        if not child:
            raise SkeletonError("joint", "none is in hand", CHOOSE_FIRST)
        return child


class COUNTERPOISE_OT_search_joint(ForJoint, AsksFirst, bpy.types.Operator):
    """Find the joint's facets and limits anew. What was set by hand stays: facets marked, a frame moved"""

    bl_idname = "counterpoise.search_joint"
    bl_label = "Search Again"

    child: bpy.props.StringProperty(name="Element", description="The element that hangs on the joint", options=AS_GIVEN)
    overlap: ask_percent("Overlap", "Least share of a facet's neutral contact that must stay covered")
    contact: ask_percent("Contact", "Bone contact beyond neutral that is still allowed, in % of the joint's size")
    gap: ask_percent("Gap", "Greatest opening of the facets beyond neutral, in % of the joint's size")
    slide: ask_percent("Slide", "Greatest translation by which contact may be relieved, in % of the joint's size")
    search: bpy.props.FloatProperty(
        name="Search",
        description="How far each way limits are searched for",
        unit="ROTATION",
        min=NARROW,
        max=WIDE,
        options=AS_GIVEN,
    )
    from_nothing: bpy.props.BoolProperty(
        name="From Nothing",
        description="Drop what was set by hand as well: centre, axes, limits, marked facets, that it is fixed",
        default=False,
        options=AS_GIVEN,
    )
    edit: bpy.props.BoolProperty(
        name="Ask", description="Ask for the settings first", default=False, options={"HIDDEN", "SKIP_SAVE"}
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        return look_up("Find the joint's facets and limits with other settings") if properties.edit else ""

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        if not self.edit:
            return None
        try:
            self.child = self.take_joint(context)
            self.fill(keep_document(context.scene).document)
        except SkeletonError as error:
            report_error(self, error)
            return {"CANCELLED"}
        return context.window_manager.invoke_props_dialog(
            self, title=say("Search for the Joint of {element}", element=self.child)
        )

    def fill(self, document: SkeletonDocument) -> None:
        """Show the settings that the joint has now."""
        own = default_settings(document.skeleton, document.skeleton.joint_of(self.child))
        for name, key in SHARES.items():
            setattr(self, name, 100 * getattr(own, key))
        self.search = own.search_rad

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        for name in SETTINGS:
            layout.prop(self, name)
        joint = keep_document(context.scene).document.skeleton.joint_of(self.child)
        column = layout.column()
        column.prop(self, "from_nothing")
        if (why := name_hand(joint)) and not self.from_nothing:
            told = say("{reason}: tick this to drop that", reason=capitalise(tell(why)))
            column.label(text=told, icon="INFO")

    def answers(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in ("child", *SETTINGS, "from_nothing")}

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        document, child = kept.document, self.take_joint(context)
        folder = locate_mesh_folder(document, text_path(context.scene.counterpoise.document))
        settings = self.read_settings(default_settings(document.skeleton, document.skeleton.joint_of(child)))
        self.found, self.digest = child, kept.digest
        given = (document, folder, child, settings, self.from_nothing)
        return partial(search_document_joint, *given, cache=open_own_cache())

    def read_settings(self, own: LimitSettings) -> LimitSettings:
        """The joint's settings with those that were given in place of its own."""
        given = {
            key: read_decimal(getattr(self, name)) / 100
            for name, key in SHARES.items()
            if self.properties.is_property_set(name) and abs(getattr(self, name) - 100 * getattr(own, key)) > 1e-4
        }
        if self.properties.is_property_set("search") and abs(self.search - own.search_rad) > 1e-6:
            given["search_rad"] = float(self.search)
        return LimitSettings(**{**vars(own), **given})

    def finish(self, context: bpy.types.Context, found: SkeletonDocument) -> str:
        require_same(context, self.digest)
        live = read_scene_pose(context, keep_document(context.scene))
        exchange_document(context, found, keep_turning(live, found.skeleton))
        return tell_found(found.skeleton.joint_of(self.found))


CLASSES = (COUNTERPOISE_OT_search_joint,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
