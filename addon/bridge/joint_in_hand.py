"""The joint in hand: that of the active bone, or of the element that is selected."""

from __future__ import annotations

import bpy

from .figures import drawn_joints
from .joint_frames import FRAME
from .joint_text import JointFigure, word_joint
from .rig import ELEMENT
from .units import scene_units


def list_selected(context: bpy.types.Context, rig: bpy.types.Object) -> list[str]:
    """The elements of the selected bones of a rig in pose mode; else the element that is the active object.

    The frame of a joint, shown and active, stands for the joint's child.
    """
    if context.mode == "POSE":
        bones = context.selected_pose_bones or ()
        return [bone.bone[ELEMENT] for bone in bones if bone.id_data == rig and ELEMENT in bone.bone]
    active = context.view_layer.objects.active
    if active is not None and FRAME in active:
        return [active[FRAME]]
    own = active is not None and active.parent == rig and ELEMENT in active and active.select_get()
    return [active[ELEMENT]] if own else []


def find_in_hand(context: bpy.types.Context) -> str:
    """The element whose joint is in hand: of the active bone, where that is selected, or of the active object."""
    chosen, rig = [], context.scene.counterpoise.rig
    if rig is not None:
        chosen = list_selected(context, rig)
    bone = context.active_pose_bone if context.mode == "POSE" else None
    if bone is None:
        return chosen[0] if chosen else ""
    own = bone.bone.get(ELEMENT, "") if bone.id_data == rig else ""
    return str(own) if own in chosen else ""


def show_in_hand(context: bpy.types.Context) -> JointFigure | None:
    """The joint in hand in words, as the live pose uses it; None where no joint is."""
    kept, uses = drawn_joints(context.scene)
    child = find_in_hand(context)
    joints = kept.document.skeleton.joints if kept is not None and child else ()
    joint = next((joint for joint in joints if joint.child == child), None)
    return None if joint is None else word_joint(joint, uses.get(child), scene_units(context.scene))
