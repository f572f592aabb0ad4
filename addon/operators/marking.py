"""Facets marked by hand: faces selected on an element tell the joint, before whatever was found."""

from __future__ import annotations

from dataclasses import replace

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.joint_text import tell_found
from ..bridge.kept_document import keep_document, text_path
from ..bridge.own_cache import open_own_cache
from ..bridge.proxies import leave_edit_mode, read_selected_faces
from ..bridge.rig import ELEMENT
from ..bridge.scene import exchange_document
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.facet_marks import mark_facets
from ..core_calcs.studies.joints_by_hand import keep_turning
from ..core_calcs.studies.marked_joints import propose_marked_joint, transfer_mark
from ..translations.catalogues import CORE
from .step import AS_GIVEN, NeedsRig, follow_progress

FAMILIES = [
    ("AS_FOUND", "As Found", "The plainest that fits"),
    ("ball", "Ball", "Turns about a centre"),
    ("hinge", "Hinge", "Turns about one axis"),
    ("paired condyles", "Paired Condyles", "Turns about one axis through two condyles"),
    ("saddle", "Saddle", "Turns about two axes that cross without meeting"),
]

KINDS = [
    ("BY_PLACE", "By Its Place", "Of a vertebra: on the midline the centrum's, beside it a zygapophysis"),
    ("centrum", "Centrum", "The end plate of a vertebra's centrum"),
    ("left zygapophysis", "Left Zygapophysis", "Of a vertebra, on the animal's left"),
    ("right zygapophysis", "Right Zygapophysis", "Of a vertebra, on the animal's right"),
]

SELECT_FIRST = "Choose an element in the list, go into Edit Mode and select the faces of its facet"


class COUNTERPOISE_OT_mark_facet(NeedsRig, bpy.types.Operator):
    """Find a joint from the faces selected on the active element: its facet"""

    bl_idname = "counterpoise.mark_facet"
    bl_label = "Mark Facet"

    child: bpy.props.StringProperty(name="Joint of", description="The element that hangs on it", options=AS_GIVEN)
    family: bpy.props.EnumProperty(
        name="Family",
        description="Of a limb's joint",
        items=FAMILIES,
        default="AS_FOUND",
        translation_context=CORE,
        options=AS_GIVEN,
    )
    kind: bpy.props.EnumProperty(
        name="Facet", description="Of a vertebra", items=KINDS, default="BY_PLACE", options=AS_GIVEN
    )

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        active = context.active_object
        ready = active is not None and active.type == "MESH" and ELEMENT in active
        return super().name_lack(context) or ("" if ready else SELECT_FIRST)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        skeleton = keep_document(context.scene).document.skeleton
        self.child = self.child or propose_marked_joint(skeleton, context.active_object[ELEMENT])
        return context.window_manager.invoke_props_dialog(self, width=360)

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        self.layout.prop_search(self, "child", context.scene.counterpoise, "castings", icon="BONE_DATA")
        self.layout.prop(self, "family")
        self.layout.prop(self, "kind")

    def work(self, context: bpy.types.Context) -> str:
        kept = keep_document(context.scene)
        document, proxy = kept.document, context.active_object
        name = proxy[ELEMENT]
        child = self.child or propose_marked_joint(document.skeleton, name)
        element = document.skeleton.elements[document.skeleton.index(name)]
        surface, chosen = read_selected_faces(proxy, element, context.scene.counterpoise.rig)
        if not chosen:
            raise SkeletonError(name, "no face of it is selected", "select the faces of the facet in Edit Mode")
        folder = locate_mesh_folder(document, text_path(context.scene.counterpoise.document))
        mark = transfer_mark(element, folder, surface, chosen)
        if self.kind != "BY_PLACE":
            mark = replace(mark, kind=self.kind)
        family = None if self.family == "AS_FOUND" else self.family
        given = {"progress": follow_progress(context), "cache": open_own_cache()}
        changed = mark_facets(document, folder, child, [mark], family, **given)
        leave_edit_mode(context)
        live = read_scene_pose(context, kept)
        exchange_document(context, changed, keep_turning(live, changed.skeleton))
        found = changed.skeleton.joint_of(child)
        return tell_found(found)


CLASSES = (COUNTERPOISE_OT_mark_facet,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
