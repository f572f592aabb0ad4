"""Saved poses as keyframes of the rig, and their removal."""

from __future__ import annotations

import math

import bpy

from ..bridge.comparison import list_checked
from ..bridge.figures import require_rig
from ..bridge.kept_document import keep_document
from ..bridge.keyframes import find_keyframes, key_poses, remove_keyframes
from ..bridge.motions import check_scale
from ..bridge.pose_order import order_rows
from ..core_calcs.document.editing import find_pose
from ..core_calcs.studies.pose_keyframes import FEWEST, PoseKeyframes, plan_keyframes
from ..translations.phrases import say
from .step import NeedsRig

EASES = [
    ("smooth", "Slow In and Out", "Slow out of each pose and into the next"),
    ("even", "Constant Speed", "At a constant speed from pose to pose"),
]


class COUNTERPOISE_OT_poses_to_keyframes(NeedsRig, bpy.types.Operator):
    """Key the poses checked, in the order of the list, into an action of their own; an action that is there is kept"""

    bl_idname = "counterpoise.poses_to_keyframes"
    bl_label = "Poses to Keyframes"

    start: bpy.props.IntProperty(name="First Frame", description="Frame of the first pose", default=1)
    between: bpy.props.IntProperty(
        name="Frames to the Next", description="From each pose to the next", default=24, min=1, soft_max=250, max=10000
    )
    ease: bpy.props.EnumProperty(name="Movement", description="How it goes from pose to pose", items=EASES)

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        if lack := super().name_lack(context):
            return lack
        count = len(list_checked(context.scene))
        return "" if count >= FEWEST else say("Check two poses or more in the list; {count} are", count=count)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split = True
        for name in ("start", "between", "ease"):
            self.layout.prop(self, name)
        data = context.scene.counterpoise.rig.animation_data
        before = data.action if data is not None else None
        if before is not None and find_keyframes(context.scene.counterpoise.rig) is None:
            self.layout.label(text=say("{action} stays in the file", action=before.name), icon="ACTION")

    def work(self, context: bpy.types.Context) -> str:
        scene, kept, rig = context.scene, keep_document(context.scene), require_rig(context.scene)
        check_scale(rig, scene)
        names = [scene.counterpoise.poses[i].name for i in order_rows(scene) if scene.counterpoise.poses[i].compared]
        poses = [find_pose(kept.document, name) for name in names]
        planned = plan_keyframes(kept.document.skeleton, poses, self.start, self.between, self.ease)
        key_poses(scene, rig, kept, planned, self.ease == "smooth")
        scene.frame_end = max(scene.frame_end, planned.frames[-1])
        scene.frame_set(planned.frames[0])
        if planned.worst is not None:
            self.report({"WARNING"}, tell_worst(planned))
            return ""
        return tell_keyed(planned)


class COUNTERPOISE_OT_remove_pose_keyframes(NeedsRig, bpy.types.Operator):
    """Take the keyframes of saved poses away: the action before is back, the rig stands as it did"""

    bl_idname = "counterpoise.remove_pose_keyframes"
    bl_label = "Remove Keyframes"

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        if lack := super().name_lack(context):
            return lack
        keyed = find_keyframes(context.scene.counterpoise.rig) is not None
        return "" if keyed else "The rig has no keyframes of saved poses"

    def work(self, context: bpy.types.Context) -> str:
        before = remove_keyframes(context.scene, require_rig(context.scene))
        if before is None:
            return "The keyframes are gone; the rig stands as before them"
        return say("The keyframes are gone; {action} is the rig's action again", action=before.name)


KEYED = "{poses} poses from frame {first} to {last}: every joint stays inside its bony range"
KEYED_HELD = "{poses} poses from frame {first} to {last}: on the way {held} are held inside their bony range"
KEYED_UNKNOWN = "{poses} poses from frame {first} to {last}; whether joints stay inside is not known of {unknown}"


def tell_keyed(planned: PoseKeyframes) -> str:
    """What was keyed, where no joint leaves its range as far as that is known."""
    held = list(dict.fromkeys(own.child for own in planned.held))
    template = KEYED_UNKNOWN if planned.unknown else KEYED_HELD if held else KEYED
    return say(
        template,
        poses=len(planned.poses),
        first=planned.frames[0],
        last=planned.frames[-1],
        held=", ".join(held),
        unknown=planned.unknown,
    )


def tell_worst(planned: PoseKeyframes) -> str:
    """Where a joint is farthest beyond its range."""
    template = "Joints beyond their bony range on the way: {count}. Worst at frame {frame}: {joint}, {angle}"
    worst = planned.worst
    degrees = math.degrees(worst.beyond_rad)
    values = {"frame": worst.frame, "joint": worst.child, "angle": f"{degrees:.1f}°"}
    return say(template, count=planned.outside, **values)


CLASSES = (COUNTERPOISE_OT_poses_to_keyframes, COUNTERPOISE_OT_remove_pose_keyframes)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
