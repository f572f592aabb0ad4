"""Bringing the rig into a pose."""

from __future__ import annotations

import bpy

from ..bridge.auto_keys import is_keying, key_changed
from ..bridge.figures import read_scene_pose, require_rig
from ..bridge.kept_document import keep_document, text_path
from ..bridge.motions import write_pose
from ..bridge.pose_rows import select_pose
from ..bridge.rig_in_hand import read_channels
from ..bridge.units import Units, scene_units, word_quantity
from ..core_calcs.document.editing import find_pose
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.studies.resting import Resting, find_resting
from ..translations.phrases import list_few, say, tell
from .step import AS_GIVEN, NeedsRig, Step


class COUNTERPOISE_OT_restore_pose(NeedsRig, Step, bpy.types.Operator):
    """Bring the rig into a saved pose. One that holds where elements were mounted is shown in the view instead"""

    bl_idname = "counterpoise.restore_pose"
    bl_label = "Restore Pose"

    name: bpy.props.StringProperty(name="Pose", description="Name of the saved pose", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        pose = find_pose(keep_document(context.scene).document, self.name)
        if not pose.mounted:
            pose_rig(context, pose)
            return ""
        context.scene.counterpoise.overlays.mounted = True
        select_pose(context.scene, pose.name)
        return say("{pose}: no joint is turned; the view shows where elements stood", pose=pose.name)


class COUNTERPOISE_OT_reset_pose(NeedsRig, Step, bpy.types.Operator):
    """Bring every joint back to the neutral articulation; the whole stays where it stands"""

    bl_idname = "counterpoise.reset_pose"
    bl_label = "Back to Neutral"

    def work(self, context: bpy.types.Context) -> str:
        kept = keep_document(context.scene)
        live = read_scene_pose(context, kept)
        pose_rig(context, Pose("neutral", {}, live.X_WN, idle_feet=live.idle_feet))
        return ""


MOST_NAMED = 4
"""So many elements are told by name."""


class COUNTERPOISE_OT_stand(NeedsRig, Step, bpy.types.Operator):
    """Move the whole, joints as they are, down to the ground: on its feet, or on what it lies on"""

    bl_idname = "counterpoise.stand"
    bl_label = "Stand on the Ground"

    level: bpy.props.BoolProperty(
        name="Level",
        description="Tilt the whole as well, by the smallest turn that brings the most feet down",
        options=AS_GIVEN,
    )

    def work(self, context: bpy.types.Context) -> str:
        kept = keep_document(context.scene)
        live = read_scene_pose(context, kept)
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
        resting = find_resting(kept.document.skeleton, live, kept.document.site, self.level, folder)
        pose_rig(context, resting.standing.pose)
        return word_resting(resting, scene_units(context.scene))


def word_resting(resting: Resting, units: Units) -> str:
    """On what it rests, by how much it was moved, and what is not known of it."""
    standing, others = resting.standing, list_few(resting.others, MOST_NAMED)
    told = say("Standing on {feet}", feet=", ".join(map(tell, standing.feet)))
    if others:
        told = say("Rests on {elements}; no foot touches the ground", elements=others)
    lift = word_quantity(abs(standing.lift_m), "m", units)
    up, down = say("moved up by {height}", height=lift), say("moved down by {height}", height=lift)
    parts = [told, down if standing.lift_m < 0 else up]
    if resting.sunk:
        depth = word_quantity(resting.depth_m, "m", units)
        parts.append(say("{element} reaches {depth} below the ground", element=resting.sunk, depth=depth))
    if resting.unread:
        unread = list_few(resting.unread, MOST_NAMED)
        parts.append(say("how low these reach is not known, for want of their scans: {elements}", elements=unread))
    return "; ".join(parts)


def pose_rig(context: bpy.types.Context, pose: Pose) -> None:
    """Write a pose into the rig's bones, key what has changed where Auto Keying is on, and evaluate it."""
    kept, rig = keep_document(context.scene), require_rig(context.scene)
    before = read_channels(rig) if is_keying(context) else {}
    write_pose(rig, kept.document.skeleton, kept.plan, pose, context.scene)
    key_changed(context, rig, before)
    context.view_layer.update()


CLASSES = (COUNTERPOISE_OT_restore_pose, COUNTERPOISE_OT_reset_pose, COUNTERPOISE_OT_stand)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
