"""The orientation audit: which elements stand turned, mirrored or in each other's place."""

from __future__ import annotations

import bpy

from ..bridge.audit import find_verdict, show_in_full
from ..bridge.kept_document import keep_document
from ..bridge.proxies import select_proxies
from ..core_calcs.spatial.errors import SkeletonError
from .step import AS_GIVEN, NeedsSkeleton, Step

AUDIT_FIRST = "audit the skeleton first"


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


CLASSES = (COUNTERPOISE_OT_show_verdict,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
