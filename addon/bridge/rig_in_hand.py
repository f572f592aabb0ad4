"""The rig while a posing tool moves it: poses are written live, bone by changed bone, and can be taken back whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import bpy
import numpy as np
from mathutils import Matrix

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.posing import Chain
from ..core_calcs.studies.rolling import PreparedRoll
from ..core_calcs.studies.stand import find_standing
from .contacts import write_idle
from .figures import read_scene_pose, require_rig
from .frames import Array, to_array
from .kept_document import KeptDocument, keep_document
from .motions import NEUTRAL, RestFrames, read_rests, write_pose
from .rig import ELEMENT, SCALE

CHANNELS = ("location", "rotation_quaternion", "rotation_axis_angle", "rotation_euler", "scale")
Channels = dict[str, tuple[tuple[float, ...], ...]]
"""Of every bone, by its name, what these hold."""


@dataclass
class RigInHand:
    """A rig, and what it held before the tool began.

    begun : the pose that it held; pose : the one that was written last
    channels : of each bone, as they were
    rolls : feet made ready to roll from the pose that it held, by what they were made ready for
    """

    scene: bpy.types.Scene
    rig: bpy.types.Object
    kept: KeptDocument
    frames: RestFrames
    begun: Pose
    pose: Pose
    channels: Channels
    rolls: dict[tuple[str, ...], PreparedRoll] = field(default_factory=dict)

    @cached_property
    def names(self) -> dict[str, str]:
        """Name of the bone that turns each element's joint, by the element."""
        elements = (bone.element for bone in self.kept.plan.bones)
        return dict(zip(elements, self.frames.names, strict=True))

    @cached_property
    def standing(self) -> tuple[str, ...]:
        """The feet that stand on the ground as the tool began: those that are held, where feet are."""
        document = self.kept.document
        bearing = len(document.skeleton.feet) > len(self.begun.idle_feet)
        return find_standing(document.skeleton, self.begun, document.site).feet if bearing else ()


def take_rig(context: bpy.types.Context) -> RigInHand:
    """The scene's rig; CounterpoiseError where it is gone, does not fit the document or holds no pose."""
    kept, rig = keep_document(context.scene), require_rig(context.scene)
    pose = read_scene_pose(context, kept)
    return RigInHand(context.scene, rig, kept, read_rests(rig, kept.plan), pose, pose, read_channels(rig))


def read_channels(rig: bpy.types.Object) -> Channels:
    """What the channels of all bones hold."""
    return {bone.name: tuple(tuple(getattr(bone, channel)) for channel in CHANNELS) for bone in rig.pose.bones}


def show_pose(hand: RigInHand, pose: Pose) -> None:
    """Write a pose into the bones that differ from the one written last."""
    write_pose(hand.rig, hand.kept.document.skeleton, hand.kept.plan, pose, hand.scene, hand.frames, hand.pose)
    hand.pose = pose


def put_back(hand: RigInHand) -> None:
    """Every channel to the last bit as it was before the tool began."""
    for name, values in hand.channels.items():
        bone = hand.rig.pose.bones.get(name)
        for channel, value in zip(CHANNELS, values, strict=True) if bone is not None else ():
            setattr(bone, channel, value)
    if hand.pose.idle_feet != hand.begun.idle_feet:
        write_idle(hand.rig, hand.begun.idle_feet)
    hand.pose = hand.begun


def turned_pose(pose: Pose, element: str, angles_rad: Array) -> Pose:
    """The pose with a joint at other angles (3,)."""
    return replace(pose, angles_rad={**pose.angles_rad, element: np.asarray(angles_rad, float)})


def angles_of(pose: Pose, element: str) -> Array:
    """(3,) flexion, lateral, axial of a joint in a pose."""
    return np.asarray(pose.angles_rad.get(element, NEUTRAL), float)


def find_bone(rig: bpy.types.Object, element: str) -> bpy.types.PoseBone | None:
    """The bone that turns an element's joint; None where there is none."""
    bones = rig.pose.bones
    # Bones are named after their elements, but for long names, taken ones and renamed bones.
    likely = bones.get(element)
    if likely is not None and likely.bone.get(ELEMENT) == element:
        return likely
    return next((bone for bone in bones if bone.bone.get(ELEMENT) == element), None)


def active_element(context: bpy.types.Context) -> str:
    """The element of the active bone of the scene's rig, in pose mode; else empty."""
    bone = context.active_pose_bone if context.mode == "POSE" else None
    own = bone is not None and bone.id_data == context.scene.counterpoise.rig
    return str(bone.bone.get(ELEMENT, "")) if own else ""


def joint_axes(hand: RigInHand, element: str) -> tuple[Array, Array]:
    """Centre (3,) of a joint and axes (3, 3) of flexion, lateral, axial in rows, in the scene, as last written.

    The rig is to be evaluated since.

    A greater angle is a right-handed turn about its axis.
    """
    bone = find_bone(hand.rig, element)
    placed = to_array(hand.rig.matrix_world @ bone.matrix)
    senses = hand.kept.document.skeleton.joint_of(element).senses
    flexion, lateral, axial = angles_of(hand.pose, element) * senses
    about_x, about_z = (to_array(Matrix.Rotation(a, 3, axis)) for a, axis in ((flexion, "X"), (lateral, "Z")))
    about_y = to_array(Matrix.Rotation(axial, 3, "Y"))
    unturned = placed[:3, :3] @ (about_x @ about_z @ about_y).T
    axes = np.stack([unturned[:, 0], (unturned @ about_x)[:, 2], placed[:3, 1]]) * np.array(senses)[:, None]
    return placed[:3, 3], axes / np.linalg.norm(axes, axis=1, keepdims=True)


def chain_ends(hand: RigInHand, children: Sequence[str]) -> Array:
    """(n, 2, 3) heads and tails of the bones that turn these joints, in the scene; those without one are left out."""
    bones = hand.rig.pose.bones
    own = [bone for child in children if (bone := bones.get(hand.names.get(child, ""))) is not None]
    ends = np.array([(tuple(bone.head), tuple(bone.tail)) for bone in own], float).reshape(-1, 2, 3)
    world = to_array(hand.rig.matrix_world)
    return np.asarray(ends @ world[:3, :3].T + world[:3, 3])


def pick_chain(hand: RigInHand, name: str, element: str) -> Chain:
    """The chain of that name; else the one that an element's joint belongs to, or what carries the element.

    Raises
    ------
    SkeletonError : no chain of that name, no element, none on the way from it to the root
    """
    posing = hand.kept.posing
    if name:
        return posing.find_chain(name)
    if not element:
        raise SkeletonError("chain", "none is in hand", "make a bone active in pose mode, or name a chain")
    posing.index(element)
    above = element
    while above in posing.rows:
        for chain in posing.chains:
            if above in chain.children:
                return chain
        above = posing.find_joint(above).parent
    known = ", ".join(chain.name for chain in posing.chains) or "none"
    raise SkeletonError(element, "it belongs to no chain", f"take a bone of one of these: {known}")


def tip_point(hand: RigInHand, element: str) -> Array:
    """(3,) the end of an element's bone in its frame E [m]; its centre where it has no bone of its own."""
    skeleton = hand.kept.document.skeleton
    own = skeleton.elements[skeleton.index(element)]
    bone = find_bone(hand.rig, element)
    if bone is None:
        return np.asarray(own.solid.centre_m, float)
    tail = np.array(bone.bone.tail_local, float) * float(hand.rig.data[SCALE])
    return np.asarray(np.linalg.inv(own.X_WE) @ np.append(tail, 1.0))[:3]


def place_of(hand: RigInHand, element: str, point_m: Array) -> Array:
    """(3,) where a point (3,) of an element, in its frame E, stands as the rig was last evaluated, in the scene."""
    skeleton, unit_m = hand.kept.document.skeleton, float(hand.rig.data[SCALE])
    row = skeleton.index(element)
    carrier = find_bone(hand.rig, hand.kept.plan.bones[hand.kept.plan.carriers[row]].element)
    at = (skeleton.elements[row].X_WE @ np.append(point_m, 1.0))[:3] / unit_m
    moved = to_array(hand.rig.matrix_world @ carrier.matrix @ carrier.bone.matrix_local.inverted())
    return np.asarray(moved[:3, :3] @ at + moved[:3, 3])
