"""Facets marked by hand: faces selected on an element tell the joint that its surfaces leave ambiguous."""

from __future__ import annotations

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document, text_path, write_text
from ..bridge.proxies import leave_edit_mode, read_selected_faces
from ..bridge.rig import ELEMENT
from ..bridge.scene import rebuild_rig
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.joints_by_hand import keep_turning
from ..core_calcs.studies.marked_joints import mark_document_joint, propose_marked_joint, transfer_mark
from .step import AS_GIVEN, NeedsRig, Step, follow_progress

FAMILIES = [
    ("AS_FOUND", "As Found", "The plainest that fits"),
    ("ball", "Ball", "Turns about a centre"),
    ("hinge", "Hinge", "Turns about one axis"),
    ("paired condyles", "Paired Condyles", "Turns about one axis through two condyles"),
    ("saddle", "Saddle", "Turns about two axes that cross apart"),
]


class COUNTERPOISE_OT_mark_facet(NeedsRig, Step, bpy.types.Operator):
    """Find a joint from the faces selected on the active element: its facet"""

    bl_idname = "counterpoise.mark_facet"
    bl_label = "Mark Facet"

    child: bpy.props.StringProperty(name="Joint of", description="The element that hangs on it", options=AS_GIVEN)
    family: bpy.props.EnumProperty(
        name="Family", description="Of the joint", items=FAMILIES, default="AS_FOUND", options=AS_GIVEN
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not super().poll(context):
            return False
        active = context.active_object
        if active is None or active.type != "MESH" or ELEMENT not in active:
            cls.poll_message_set("Choose an element in the list, go into Edit Mode and select the faces of its facet")
            return False
        return True

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        skeleton = keep_document(context.scene).document.skeleton
        self.child = self.child or propose_marked_joint(skeleton, context.active_object[ELEMENT])
        return context.window_manager.invoke_props_dialog(self, width=360)

    def work(self, context: bpy.types.Context) -> str:
        kept = keep_document(context.scene)
        document, proxy = kept.document, context.active_object
        name = proxy[ELEMENT]
        child = self.child or propose_marked_joint(document.skeleton, name)
        element = document.skeleton.elements[document.skeleton.index(name)]
        surface, chosen = read_selected_faces(proxy, element, context.scene.counterpoise.rig)
        if not chosen:
            raise SkeletonError(name, "no face of it is selected", "select the faces of the facet in Edit Mode")
        text = context.scene.counterpoise.document
        folder = locate_mesh_folder(document, text_path(text))
        mark = transfer_mark(element, folder, surface, chosen)
        joint = document.skeleton.joint_of(child)
        marks = [mark, *(other for other in joint.marks if other.element != name)]
        family = None if self.family == "AS_FOUND" else self.family
        changed = mark_document_joint(document, folder, child, marks, family, progress=follow_progress(context))
        leave_edit_mode(context)
        self.exchange(context, text, changed)
        found = changed.skeleton.joint_of(child)
        return f"{child}: {found.confidence}, {'turns' if found.moves else 'fixed'}: {found.reason}"

    def exchange(self, context: bpy.types.Context, text: bpy.types.Text, changed: SkeletonDocument) -> None:
        """Write the document and make the rig fit it, or leave both as they were."""
        live = read_scene_pose(context, keep_document(context.scene))
        before = text.as_string()
        write_text(text, changed)
        try:
            rebuild_rig(context, changed, keep_turning(live, changed.skeleton))
        except Exception:
            text.from_string(before)
            raise


CLASSES = (COUNTERPOISE_OT_mark_facet,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
