"""A joint's frame moved with Blender's own G and R, then taken over with a reason: its limits are found anew there."""

from __future__ import annotations

from functools import partial
from typing import Any

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.joint_frames import find_frame_shown, put_away_frames, read_frame, show_frame
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.own_cache import open_own_cache
from ..bridge.scene import exchange_document
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.joints_by_hand import keep_turning
from ..core_calcs.studies.searched_joints import place_document_joint, require_placeable
from ..translations.phrases import say
from .long_step import AsksFirst
from .meshes import require_same
from .searching import ForJoint
from .step import AS_GIVEN, NeedsRig, report_error

SHOW_FIRST = "Show the joint's frame first, then move it with G and turn it with R"


class COUNTERPOISE_OT_show_frame(ForJoint, bpy.types.Operator):
    """Show the joint's frame as an empty, to be moved with G and turned with R: x flexion axis, y along the child"""

    bl_idname = "counterpoise.show_frame"
    bl_label = "Show Frame"

    child: bpy.props.StringProperty(name="Element", description="The element that hangs on the joint", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        kept = keep_document(context.scene)
        joint = kept.document.skeleton.joint_of(self.take_joint(context))
        require_placeable(joint)
        show_frame(context, kept, joint)
        return say("Frame of {element}: move it with G, turn it with R, then Take Over Frame", element=joint.child)


class NeedsFrame(NeedsRig):
    """Mixed into an operator that works on the frame shown."""

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        return super().name_lack(context) or ("" if find_frame_shown(context) is not None else SHOW_FIRST)


class COUNTERPOISE_OT_take_frame(NeedsFrame, AsksFirst, bpy.types.Operator):
    """Take the joint's frame over from where it was moved to, with your reason; limits are found anew, angles stay"""

    bl_idname = "counterpoise.take_frame"
    bl_label = "Take Over Frame"

    reason: bpy.props.StringProperty(
        name="Reason", description="Why, in your words: it stays with the joint", options=AS_GIVEN
    )

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        if self.reason:
            return None
        try:
            child, _ = read_frame(context, keep_document(context.scene))  # what cannot be is told before it is asked
        except CounterpoiseError as error:
            report_error(self, error)
            return {"CANCELLED"}
        return context.window_manager.invoke_props_dialog(
            self, title=say("Frame of {element}", element=child), width=360
        )

    def answers(self) -> dict[str, Any]:
        return {"reason": self.reason or " "}  # left empty it is refused, not asked for again

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        self.found, X_WJ = read_frame(context, kept)
        self.digest = kept.digest
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
        given = (kept.document, folder, self.found, X_WJ, self.reason)
        return partial(place_document_joint, *given, cache=open_own_cache())

    def finish(self, context: bpy.types.Context, found: SkeletonDocument) -> str:
        require_same(context, self.digest)
        live = read_scene_pose(context, keep_document(context.scene))
        shown = find_frame_shown(context)
        exchange_document(context, found, keep_turning(live, found.skeleton))
        context.view_layer.objects.active = shown  # so that the joint is in hand again when its frame goes
        put_away_frames(context)
        return say("Frame of {element} taken over", element=self.found)


class COUNTERPOISE_OT_drop_frame(NeedsFrame, bpy.types.Operator):
    """Put the frame that is shown away: nothing has changed"""

    bl_idname = "counterpoise.drop_frame"
    bl_label = "Put Away"

    def work(self, context: bpy.types.Context) -> str:
        put_away_frames(context)
        return ""


CLASSES = (COUNTERPOISE_OT_show_frame, COUNTERPOISE_OT_take_frame, COUNTERPOISE_OT_drop_frame)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
