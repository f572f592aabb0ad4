"""The orientation audit: which elements stand turned, mirrored or in each other's place."""

from __future__ import annotations

from functools import partial

import bpy

from ..bridge.audit import find_verdict, keep_audit, show_in_full
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.proxies import select_proxies
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.audit import Audit, audit_document
from ..translations.phrases import say
from .long_step import LongStep
from .meshes import require_same
from .step import AS_GIVEN, NeedsSkeleton, Step

AUDIT_FIRST = "audit the skeleton first"


class COUNTERPOISE_OT_audit_orientation(NeedsSkeleton, LongStep, bpy.types.Operator):
    """Try every element turned about, mirrored and in others' places against its neighbours. Nothing is changed"""

    bl_idname = "counterpoise.audit_orientation"
    bl_label = "Audit Orientation"
    bl_options = set()  # noqa: RUF012  what it finds is no part of the scene: there is nothing to undo

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        self.digest = kept.digest
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
        return partial(audit_document, kept.document, folder)

    def finish(self, context: bpy.types.Context, found: Audit) -> str:
        require_same(context, self.digest)
        told = keep_audit(context.scene, keep_document(context.scene), found.verdicts, found.left_out)
        counts = {"undecided": len(told.undecided), "placed": len(told.as_placed)}
        if told.wrong:
            names = ", ".join(own.title for own in told.wrong)
            wrong = "{count} wrong: {names}; {undecided} undecided, {placed} as placed"
            self.report({"WARNING"}, say(wrong, count=len(told.wrong), names=names, **counts))
            return ""
        return say("None is wrong; {undecided} undecided, {placed} as placed", **counts)


class COUNTERPOISE_OT_show_verdict(NeedsSkeleton, Step, bpy.types.Operator):
    """Show this verdict in full, and select its elements in the view"""

    bl_idname = "counterpoise.show_verdict"
    bl_label = "Show Verdict"

    number: bpy.props.IntProperty(name="Number", description="Of the verdict, from 0", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        verdict = find_verdict(context.scene, keep_document(context.scene), self.number)
        if verdict is None:
            raise SkeletonError(f"verdict {self.number}", "there is none of that number", AUDIT_FIRST)
        show_in_full(context.scene, self.number)
        if not select_proxies(context, verdict.elements):
            what = "not all of it is in the view"
            raise SkeletonError(" – ".join(verdict.elements), what, "build the rig again, which reads what is missing")
        return ""


CLASSES = (COUNTERPOISE_OT_audit_orientation, COUNTERPOISE_OT_show_verdict)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
