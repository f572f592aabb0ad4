"""Building the posing rig: an armature whose bones rest in the joints' frames."""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Vector

from ..core_calcs.studies.rigging import RigBone, RigPlan
from ..properties.palette import rig_colour
from .frames import BONE_AXES, EULER_ORDER, to_array, to_scene

ELEMENT = "counterpoise_element"
"""On bones and proxies: the element's full name, which Blender may have had to shorten or number."""

SCALE = "counterpoise_metres_per_unit"
"""On the armature: what a scene unit was when it was built."""

LIMITS = "Joint limits"
"""The constraints' name."""

SECOND = "counterpoise_second"
"""On a bone that follows two others: the name of the bone that rides on the second as it would itself."""

HALF = "Half with the second"
"""The name of the constraint that holds a bone between two others."""

SLACK_RAD = 1e-5
"""Limits are this much wider on the bones, so that a pose at a limit comes back as it was saved."""

POINTS_BACK = -0.77
"""A bone whose direction has less than this of its parent's points back along it."""


def build_rig(plan: RigPlan, name: str, collection: bpy.types.Collection, metres_per_unit: float) -> bpy.types.Object:
    """Make the armature for a plan; its first bone is the root's. Leaves object mode and the rig active."""
    armature = bpy.data.armatures.new(name)
    rig = bpy.data.objects.new(name, armature)
    collection.objects.link(rig)
    armature[SCALE] = metres_per_unit
    view_layer = bpy.context.view_layer
    if view_layer.objects.active and view_layer.objects.active.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    names = [_add_bone(armature, bone, metres_per_unit) for bone in plan.bones]
    for bone, own in zip(plan.bones, names, strict=True):
        if bone.parent >= 0:
            _parent_bone(armature, own, names[bone.parent])
    seconds = {
        own: _add_second(armature, own, names[bone.second])
        for bone, own in zip(plan.bones, names, strict=True)
        if bone.second >= 0
    }
    bpy.ops.object.mode_set(mode="OBJECT")
    for bone, own in zip(plan.bones, names, strict=True):
        armature.bones[own][ELEMENT] = bone.element
        if own in seconds:
            armature.bones[own][SECOND] = seconds[own]
    _group_bones(armature, plan, names)
    armature.display_type = "STICK"
    rig.show_in_front = True
    dress_rig(rig, plan)
    return rig


def dress_rig(rig: bpy.types.Object, plan: RigPlan) -> None:
    """Give the bones of a rig their colours, locks and limits; what else the user has put on them stays."""
    for bone, own in zip(plan.bones, order_bones(rig, plan), strict=True):
        pose_bone = rig.pose.bones[own]
        for made in (LIMITS, HALF):
            if (known := pose_bone.constraints.get(made)) is not None:
                pose_bone.constraints.remove(known)
        _dress_bone(pose_bone, bone)
        if bone.second >= 0:
            _hold_between(rig, pose_bone)


_ordered: list[tuple[object, list[str]]] = []
"""What the order of bones was found for last, and the order: to ask every bone takes longer than to read them all."""


def order_bones(rig: bpy.types.Object, plan: RigPlan) -> list[str]:
    """Names of the rig's bones in the plan's order; KeyError where the rig lacks one."""
    key = (plan, rig.data.as_pointer(), rig.data.bones.keys())
    if not _ordered or _ordered[0][0] != key:
        _ordered[:] = [(key, _find_order(rig, plan))]
    return _ordered[0][1]


def _find_order(rig: bpy.types.Object, plan: RigPlan) -> list[str]:
    own = {bone[ELEMENT]: bone.name for bone in rig.data.bones if ELEMENT in bone}
    return [own[bone.element] for bone in plan.bones]


def _add_bone(armature: bpy.types.Armature, bone: RigBone, metres_per_unit: float) -> str:
    X = to_scene(bone.X_WB, metres_per_unit)
    edit_bone = armature.edit_bones.new(bone.element)
    edit_bone.head = X[:3, 3]
    edit_bone.tail = X[:3, 3] + X[:3, 1] * (bone.length_m / metres_per_unit)
    edit_bone.align_roll(Vector(X[:3, 2]))
    return str(edit_bone.name)


def _parent_bone(armature: bpy.types.Armature, own: str, parent: str) -> None:
    """Parent one bone to another, by way of a hidden bone across them where the child points back along the parent.

    Blender makes a rest frame in single precision from the bone's direction in its parent's frame. For a bone that
    points back (6 to 25 degrees off straight) the frame would come out sheared by up to 1e-5.
    """
    child, above = armature.edit_bones[own], armature.edit_bones[parent]
    if child.vector.normalized().dot(above.vector.normalized()) < POINTS_BACK:
        between = armature.edit_bones.new(f"{own} between")
        between.head, between.tail = child.head, child.head + child.z_axis * child.length
        between.parent, between.hide = above, True
        above = between
    child.parent = above


def _add_second(armature: bpy.types.Armature, own: str, second: str) -> str:
    """A hidden bone of the same rest frame as another, that rides on a second one; its name."""
    bone, twin = armature.edit_bones[own], armature.edit_bones.new(f"{own} second")
    twin.head, twin.tail, twin.roll = bone.head, bone.tail, bone.roll
    _parent_bone(armature, twin.name, second)
    twin.hide = True
    return str(twin.name)


def _hold_between(rig: bpy.types.Object, pose_bone: bpy.types.PoseBone) -> None:
    """Half of the way from where the parent would carry a bone to where the second does.

    Blender takes half of the turn, and the middle of the two places of the bone's head: the core's `mean_motion`.
    """
    pose_bone.lock_rotation, pose_bone.lock_rotation_w = (True,) * 3, True
    for bone in (pose_bone, rig.pose.bones[pose_bone.bone[SECOND]]):
        (bone if hasattr(bone, "hide") else bone.bone).hide = True  # the pose's own since Blender 5
    half = pose_bone.constraints.new("COPY_TRANSFORMS")
    half.name = HALF
    half.target, half.subtarget = rig, pose_bone.bone[SECOND]
    half.influence = 0.5


def _dress_bone(pose_bone: bpy.types.PoseBone, bone: RigBone) -> None:
    root = bone.parent < 0
    pose_bone.rotation_mode = "QUATERNION" if root else EULER_ORDER
    pose_bone.lock_location = (not root,) * 3
    pose_bone.lock_scale = (True,) * 3
    colour = np.array(rig_colour(bone.series))
    pose_bone.color.palette = "CUSTOM"
    pose_bone.color.custom.normal = colour
    pose_bone.color.custom.select = 0.5 + 0.5 * colour
    pose_bone.color.custom.active = 0.2 + 0.8 * np.ones(3)
    if bone.limits_rad is not None:
        _limit_bone(pose_bone, bone)


def _limit_bone(pose_bone: bpy.types.PoseBone, bone: RigBone) -> None:
    """Limits on the turn in the bone's own rest frame, wider by what that frame is off the joint's."""
    limit = pose_bone.constraints.new("LIMIT_ROTATION")
    limit.name = LIMITS
    limit.owner_space = "LOCAL"
    limit.euler_order = EULER_ORDER
    off = bone.X_WB[:3, :3].T @ to_array(pose_bone.bone.matrix_local)[:3, :3] - np.eye(3)
    slack = SLACK_RAD + 2 * float(np.abs(off).max())
    for axis, (low, high) in zip(BONE_AXES.values(), bone.limits_rad, strict=True):
        setattr(limit, f"use_limit_{axis}", True)
        setattr(limit, f"min_{axis}", low - slack)
        setattr(limit, f"max_{axis}", high + slack)


def _group_bones(armature: bpy.types.Armature, plan: RigPlan, names: list[str]) -> None:
    for bone, own in zip(plan.bones, names, strict=True):
        group = armature.collections.get(bone.series) or armature.collections.new(bone.series)
        group.assign(armature.bones[own])
