"""Whether anything runs into anything else: looked for beside Blender, shown in the view, what is allowed set."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import bpy

from ..bridge.calculations import TriedPoses, try_poses
from ..bridge.clearance import find_earlier, find_known, keep_prepared
from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document, text_path, write_text
from ..bridge.long_work import Calculation
from ..bridge.proxies import select_proxies
from ..bridge.units import scene_units, word_length
from ..core_calcs.document.editing import set_site
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.spatial.errors import SkeletonError
from ..translations.phrases import say
from .long_step import LongStep
from .meshes import require_same
from .step import AS_GIVEN, NeedsRig, NeedsSkeleton, Step


class COUNTERPOISE_OT_check_clearance(NeedsRig, LongStep, bpy.types.Operator):
    """Hold all elements against each other, in the live pose and the saved ones"""

    bl_idname = "counterpoise.check_clearance"
    bl_label = "Check Clearance"

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        self.digest, known = kept.digest, find_known(kept)
        self.poses = (read_scene_pose(context, kept), *kept.document.poses)
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
        ready = None if known is None else known.prepared
        return partial(try_poses, kept.document.skeleton, folder, self.poses, ready, find_earlier())

    def finish(self, context: bpy.types.Context, found: TriedPoses) -> str:
        require_same(context, self.digest)
        kept = keep_document(context.scene)
        known = keep_prepared(kept, found.prepared)
        for pose, tried in zip(reversed(self.poses), reversed(found.tried), strict=True):
            known.note(kept, pose, tried)
        clearance = known.find(kept, self.poses[0])
        if not clearance.failing:
            told = "No elements run into each other in the live pose: {count} pairs were near enough to check"
            return say(told, count=clearance.tried)
        worst, count = clearance.failing[0], len(clearance.failing)
        deep = word_length(worst.depth_m, scene_units(context.scene))
        values = {"elements": " – ".join(worst.elements), "depth": deep}
        one = say("2 elements run into each other: {elements}, {depth} deep", **values)
        many = say(
            "{count} pairs of elements run into each other; worst {elements}, {depth} deep", count=count, **values
        )
        self.report({"WARNING"}, one if count == 1 else many)
        return ""


class COUNTERPOISE_OT_show_hit(NeedsSkeleton, Step, bpy.types.Operator):
    """Select the two elements that run into each other, and frame them in the view"""

    bl_idname = "counterpoise.show_hit"
    bl_label = "Show Clash"

    first: bpy.props.StringProperty(name="Element", description="Name of the one", options=AS_GIVEN)
    second: bpy.props.StringProperty(name="Other Element", description="Name of the other", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        if not select_proxies(context, (self.first, self.second)):
            both = f"{self.first} – {self.second}"
            raise SkeletonError(
                both, "they are not in the view", "build the rig again, which reads them from their files"
            )
        return ""


class COUNTERPOISE_OT_allow_clearance(NeedsSkeleton, Step, bpy.types.Operator):
    """How deep elements that no joint holds together may run into each other before that fails"""

    bl_idname = "counterpoise.allow_clearance"
    bl_label = "Allowed Depth"

    percent: bpy.props.FloatProperty(
        name="Share of the Smaller's Size",
        description="Share of the size of the smaller of two elements, the cube root of its volume",
        default=2.0,
        min=0.0,
        soft_max=20.0,
        precision=1,
        subtype="PERCENTAGE",
        options=AS_GIVEN,
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.percent = 100 * keep_document(context.scene).document.site.clearance_share_s
        return context.window_manager.invoke_props_dialog(self)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        site = replace(document.site, clearance_share_s=round(self.percent / 100, 6))
        write_text(context.scene.counterpoise.document, set_site(document, site))
        return ""


CLASSES = (COUNTERPOISE_OT_check_clearance, COUNTERPOISE_OT_show_hit, COUNTERPOISE_OT_allow_clearance)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
