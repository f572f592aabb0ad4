"""Poses as keyframes of the rig: an action of its own, the one before kept, and all of it taken back again.

Each bone's own channels are keyed, so that what is between is Blender's to show and the user's to shape. All channels
ease alike between two keys: then joints go in step, as it was laid out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import bpy
import numpy as np
from mathutils import Matrix

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.pose_keyframes import PoseKeyframes
from .contacts import IDLE, write_idle
from .kept_document import KeptDocument
from .motions import write_pose
from .rig import ELEMENT

OURS = "counterpoise_keyframes"
"""On an action: it was made of saved poses."""
BEFORE, SLOT, POSE, IDLE_BEFORE = "counterpoise_before", "counterpoise_slot", "counterpoise_pose", "counterpoise_idle"
"""On that action: the action before, its slot, the bones' channels as they were, and which feet were let off."""

ROTATIONS = {"QUATERNION": "rotation_quaternion", "AXIS_ANGLE": "rotation_axis_angle"}
"""Channels of rotation by a bone's mode; of all other modes the Euler angles."""


def find_keyframes(rig: bpy.types.Object | None) -> bpy.types.Action | None:
    """The rig's action, where it was made of saved poses."""
    data = rig.animation_data if rig is not None else None
    return data.action if data is not None and data.action is not None and OURS in data.action else None


def key_poses(
    scene: bpy.types.Scene, rig: bpy.types.Object, kept: KeptDocument, planned: PoseKeyframes, smooth: bool
) -> bpy.types.Action:
    """Key the poses into a new action of the rig; the action before stays in the file.

    Raises
    ------
    SkeletonError : the rig's animation cannot be given another action just now
    """
    data = rig.animation_data or rig.animation_data_create()
    if data.use_tweak_mode:
        what = "a strip of its animation is being tweaked"
        raise SkeletonError(rig.name, what, "leave tweak mode in the NLA editor (Tab)")
    earlier = find_keyframes(rig)
    if earlier is not None:
        remove_keyframes(scene, rig)
    before, pose = data.action, _read_channels(rig)
    slot = getattr(data, "action_slot", None)
    action = bpy.data.actions.new(_name_action(planned.poses))
    action[OURS], action[POSE], action[IDLE_BEFORE] = True, pose, str(rig.get(IDLE, ""))
    if before is not None:
        before.use_fake_user = True
        action[BEFORE], action[SLOT] = before, slot.identifier if slot is not None else ""
    data.action = action
    _insert_poses(scene, rig, kept, planned)
    for curve in list_curves(rig):
        for key in curve.keyframe_points:
            key.interpolation, key.easing = ("SINE", "EASE_IN_OUT") if smooth else ("LINEAR", "AUTO")
    _ease_held(rig, planned)
    write_idle(rig, planned.poses[0].idle_feet)
    return action


def _name_action(poses: Sequence[Pose]) -> str:
    return f"{poses[0].name} to {poses[-1].name}"


def _insert_poses(scene: bpy.types.Scene, rig: bpy.types.Object, kept: KeptDocument, planned: PoseKeyframes) -> None:
    """Keys of every bone that the user can turn at the poses' frames; between them of those joints that are held."""
    skeleton, plan = kept.document.skeleton, kept.plan
    root = plan.bones[0].element
    turning = {bone.element for bone in plan.bones if bone.second < 0}
    bones = {bone.bone[ELEMENT]: bone for bone in rig.pose.bones if bone.bone.get(ELEMENT) in turning}
    last: dict[str, object] = {}
    held: dict[int, list[str]] = {}
    for own in planned.held:
        held.setdefault(own.frame, []).append(own.child)
    angles = {(own.frame, own.child): own.angles_rad for own in planned.held}
    at = dict(zip(planned.frames, planned.poses, strict=True))
    for frame in sorted({*at, *held}):
        here = [child for child in held.get(frame, []) if frame not in at]
        pose = at.get(frame) or Pose("between", {child: angles[frame, child] for child in here})
        write_pose(rig, skeleton, plan, pose, scene)
        for element in bones if frame in at else here:
            _insert_bone(bones[element], frame, element == root, last)


def _insert_bone(bone: bpy.types.PoseBone, frame: int, placed: bool, last: dict[str, object]) -> None:
    """Key a bone's rotation, the root's place too; the rotation written the way that is nearest to the key before."""
    path = ROTATIONS.get(bone.rotation_mode, "rotation_euler")
    before = last.get(bone.name)
    if before is not None and path == "rotation_quaternion":
        near = bone.rotation_quaternion.copy()
        near.make_compatible(before)
        bone.rotation_quaternion = near
    elif before is not None and path == "rotation_euler":
        near = bone.rotation_euler.copy()
        near.make_compatible(before)
        bone.rotation_euler = near
    value = getattr(bone, path)
    last[bone.name] = value.copy() if hasattr(value, "copy") else tuple(value)
    for own in (path, "location") if placed else (path,):
        bone.keyframe_insert(own, frame=frame, group=bone.name)


def _ease_held(rig: bpy.types.Object, planned: PoseKeyframes) -> None:
    """Between keys of a joint that is held nothing eases: its angles were found frame by frame."""
    children = {own.child for own in planned.held}
    paths = {
        bone.path_from_id(ROTATIONS.get(bone.rotation_mode, "rotation_euler"))
        for bone in rig.pose.bones
        if bone.bone.get(ELEMENT) in children
    }
    for curve in list_curves(rig):
        if curve.data_path in paths:
            for key, after in zip(curve.keyframe_points, curve.keyframe_points[1:], strict=False):
                if after.co.x - key.co.x < 1.5:
                    key.interpolation = "LINEAR"


def list_curves(rig: bpy.types.Object) -> Iterator[bpy.types.FCurve]:
    """The curves of the rig's action; since Blender 4.4 an action has them by slot, from 5.0 on only there."""
    data = rig.animation_data
    if hasattr(data.action, "fcurves"):
        yield from data.action.fcurves
        return
    for layer in data.action.layers:
        for strip in layer.strips:
            bag = strip.channelbag(data.action_slot)
            if bag is not None:
                yield from bag.fcurves


def remove_keyframes(scene: bpy.types.Scene, rig: bpy.types.Object) -> bpy.types.Action | None:
    """Take the action of saved poses away: the one before is back, and the bones stand as they did; returns it."""
    action, data = find_keyframes(rig), rig.animation_data
    if action is None:
        raise SkeletonError(rig.name, "it has no keyframes of saved poses", "there is nothing to remove")
    if data.use_tweak_mode:
        what = "a strip of its animation is being tweaked"
        raise SkeletonError(rig.name, what, "leave tweak mode in the NLA editor (Tab)")
    before, slot = action.get(BEFORE), action.get(SLOT, "")
    # Taken out of the action, which is going to be gone.
    pose = {name: np.array(list(values)).reshape(4, 4) for name, values in action.get(POSE, {}).items()}
    idle = str(action.get(IDLE_BEFORE, ""))
    data.action = before
    if before is not None and slot and hasattr(data, "action_slot"):
        data.action_slot = next((own for own in before.slots if own.identifier == slot), data.action_slot)
    if not action.users or (action.users == 1 and action.use_fake_user):
        bpy.data.actions.remove(action)
    for name, values in pose.items():
        bone = rig.pose.bones.get(name)
        if bone is not None:
            bone.matrix_basis = Matrix(values.tolist())
    if idle:
        rig[IDLE] = idle
    elif IDLE in rig:
        del rig[IDLE]
    scene.frame_set(scene.frame_current)
    return before


def forget_idle(rig: bpy.types.Object, foot: str) -> None:
    """A contact that is gone is not let off when the keyframes go either: one of that name added later bears."""
    action = find_keyframes(rig)
    if action is not None:
        action[IDLE_BEFORE] = "\n".join(name for name in str(action.get(IDLE_BEFORE, "")).split("\n") if name != foot)


def _read_channels(rig: bpy.types.Object) -> dict[str, list[float]]:
    """Of every bone what its channels make of it, row by row."""
    return {bone.name: [float(entry) for row in bone.matrix_basis for entry in row] for bone in rig.pose.bones}
