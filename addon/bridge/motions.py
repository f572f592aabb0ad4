"""Reading the pose from the bones' evaluated matrices, and writing one into their channels.

An edit bone holds its rest frame in single precision, a little off the joint's frame. So a bone's motion is always
taken against its own rest matrix as Blender holds it, and a turn written to it is first carried into that frame: what
comes back are the joint's angles, not the bone's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import bpy
import numpy as np
from mathutils import Matrix

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.skeleton.tree import Skeleton
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.rigging import RigPlan, bone_turns, read_pose
from .contacts import read_idle, write_idle
from .frames import Array, scene_scale, to_array, to_matrix, to_metres, to_scene
from .rests import find_moved, read_as_seen, refuse_moved
from .rig import ELEMENT, SCALE, order_bones

NEUTRAL = np.zeros(3)
"""Angles of a joint that a pose does not name."""


def check_scale(rig: bpy.types.Object, scene: bpy.types.Scene) -> float:
    """Metres in a scene unit; SkeletonError where the rig is scaled or the scene's unit is not the one it has."""
    _refuse_scaled(rig)
    built, present = float(rig.data.get(SCALE, 0.0)), scene_scale(scene)
    if abs(present / built - 1 if built else 1.0) > 1e-6:
        what = f"it was built with a unit scale of {built:g}, but the scene has {present:g}"
        raise SkeletonError(rig.name, what, f"set the scene's unit scale to {built:g}, or build the rig again")
    return present


def _refuse_scaled(rig: bpy.types.Object) -> None:
    world = to_array(rig.matrix_world)[:3, :3]
    if np.abs(world.T @ world - np.eye(3)).max() > 1e-5 or np.linalg.det(world) < 0:
        sizes = ", ".join(f"{size:.4g}" for size in rig.matrix_world.to_scale())
        what = f"the rig is scaled, mirrored or sheared ({sizes}), but its size comes from the files"
        raise SkeletonError(rig.name, what, "set its scale, and that of what it is parented to, to 1")


def read_live_pose(
    rig: bpy.types.Object,
    skeleton: Skeleton,
    plan: RigPlan,
    depsgraph: bpy.types.Depsgraph,
    scene: bpy.types.Scene,
    name: str,
) -> Pose:
    """The pose that the evaluated rig holds, constraints and drivers included."""
    pose = read_pose(skeleton, plan, read_motions(rig, plan, depsgraph, scene), name)
    return replace(pose, idle_feet=read_idle(rig, skeleton))


def read_motions(rig: bpy.types.Object, plan: RigPlan, depsgraph: bpy.types.Depsgraph, scene: bpy.types.Scene) -> Array:
    """(m, 4, 4) of each bone of the evaluated rig, from its rest to its present place, in the world [m]."""
    metres_per_unit, names = check_scale(rig, scene), _find_bones(rig, plan)
    rests = _get_matrices(rig.data.bones, "matrix_local", names)
    back = _turn_back(rig.name, plan, rests.tobytes(), metres_per_unit)
    return _measure_motions(rig, names, back, depsgraph, metres_per_unit)


@lru_cache(maxsize=4)
def _turn_back(rig_name: str, plan: RigPlan, rests: bytes, metres_per_unit: float) -> Array:
    """(m, 4, 4) from each bone's rest back to the rig's space; kept, for a pose does not change it.

    Raises SkeletonError where the rests (m, 4, 4), as bytes, are not as planned.
    """
    own = np.frombuffer(rests, float).reshape(-1, 4, 4)
    refuse_moved(rig_name, plan, to_metres(own, metres_per_unit))
    return np.linalg.inv(own)


def recover_pose(
    rig: bpy.types.Object,
    skeleton: Skeleton,
    plan: RigPlan,
    depsgraph: bpy.types.Depsgraph,
    scene: bpy.types.Scene,
    name: str,
) -> Pose:
    """The pose of a rig that is to be built again, as far as it holds one.

    It is read in the unit that the rig was built in, whatever the scene's is now. What hangs on a bone that is gone
    is at neutral. Where bones rest elsewhere than the document has the joints: as the rig is seen.
    """
    _refuse_scaled(rig)
    known = {bone[ELEMENT]: bone.name for bone in rig.data.bones if ELEMENT in bone}
    here = [bone.element in known for bone in plan.bones]
    for row, bone in enumerate(plan.bones):  # every parent comes before its children
        here[row] = here[row] and (bone.parent < 0 or here[bone.parent])
    names = [known[bone.element] for bone, there in zip(plan.bones, here, strict=True) if there]
    metres_per_unit = float(rig.data.get(SCALE, 0.0)) or scene_scale(scene)
    rows = np.flatnonzero(here)

    def read(present: Array) -> Pose:
        motions = np.empty((len(here), 4, 4))
        motions[rows] = present
        for row in np.flatnonzero(~np.array(here)):
            parent = plan.bones[row].parent
            motions[row] = motions[parent] if parent >= 0 else to_metres(to_array(rig.matrix_world), metres_per_unit)
        return read_pose(skeleton, plan, motions, name)

    rests = _get_matrices(rig.data.bones, "matrix_local", names)
    motions, rests_m = (
        _measure_motions(rig, names, np.linalg.inv(rests), depsgraph, metres_per_unit),
        to_metres(rests, metres_per_unit),
    )
    moved = find_moved(plan, rows, rests_m).any()
    pose = read_as_seen(plan, rows, rests_m, motions, read) if moved else read(motions)
    return replace(pose, idle_feet=read_idle(rig, skeleton))


def _measure_motions(
    rig: bpy.types.Object, names: list[str], back: Array, depsgraph: bpy.types.Depsgraph, metres_per_unit: float
) -> Array:
    """back : (m, 4, 4) from each bone's rest to the rig's space"""
    evaluated = rig.evaluated_get(depsgraph)
    motions = to_array(evaluated.matrix_world) @ evaluated_bones(evaluated, names) @ back
    return to_metres(motions, metres_per_unit)


def evaluated_bones(evaluated: bpy.types.Object, names: list[str]) -> Array:
    """(m, 4, 4) of each bone in the rig's space."""
    return _get_matrices(evaluated.pose.bones, "matrix", names)


def rest_frames(rig: bpy.types.Object, plan: RigPlan) -> Array:
    """(m, 4, 4) rest matrix of each bone as Blender holds it, in the rig's space."""
    return _get_matrices(rig.data.bones, "matrix_local", _find_bones(rig, plan))


def _get_matrices(bones: bpy.types.bpy_prop_collection, key: str, names: list[str]) -> Array:
    """(m, 4, 4) a property of the bones named: all at once, bone by bone takes longer than all the rest."""
    flat = np.empty(16 * len(bones), dtype=np.float32)
    bones.foreach_get(key, flat)
    columns = flat.reshape(-1, 4, 4)[_find_rows(tuple(bones.keys()), tuple(names))]
    return np.swapaxes(columns, -1, -2).astype(float)


@lru_cache(maxsize=8)
def _find_rows(known: tuple[str, ...], names: tuple[str, ...]) -> Array:
    """Where names stand among those known; kept: bones come and go more seldom than they are read."""
    at = {name: i for i, name in enumerate(known)}
    return np.array([at[name] for name in names], int)


@dataclass(frozen=True, eq=False)
class RestFrames:
    """The bones of a rig as it rests: what a pose is written against.

    names : of the bones, in the plan's order; rests : (m, 4, 4) as Blender holds them, in the rig's space
    offsets : (m, 3, 3) turn from the joint's frame to the bone's
    """

    names: list[str]
    rests: Array
    offsets: Array


def read_rests(rig: bpy.types.Object, plan: RigPlan) -> RestFrames:
    """The rest frames of a rig's bones, to write one pose after the other."""
    rests = rest_frames(rig, plan)
    offsets = np.stack([bone.X_WB[:3, :3] for bone in plan.bones]).swapaxes(-1, -2) @ rests[:, :3, :3]
    return RestFrames(_find_bones(rig, plan), rests, offsets)


def write_pose(
    rig: bpy.types.Object,
    skeleton: Skeleton,
    plan: RigPlan,
    pose: Pose,
    scene: bpy.types.Scene,
    frames: RestFrames | None = None,
    before: Pose | None = None,
) -> None:
    """Put the rig into a pose: root bone and joint bones, and what bears; the rig object stays where it is.

    frames : the rig's, where they are known already
    before : the pose that was written last; bones that are the same in both are left alone
    """
    metres_per_unit = check_scale(rig, scene)
    if before is None or pose.idle_feet != before.idle_feet:
        write_idle(rig, pose.idle_feet)
    frames = read_rests(rig, plan) if frames is None else frames
    rows = list(range(1, len(plan.bones))) if before is None else _list_turned(pose, before, plan)
    if rows:
        turns = bone_turns(skeleton, plan, pose)[rows]
        offsets = frames.offsets[rows]
        for row, channel in zip(rows, np.linalg.solve(offsets, turns @ offsets), strict=True):
            _turn_bone(rig.pose.bones[frames.names[row]], Matrix(channel.tolist()))
    if before is None or not np.array_equal(pose.X_WN, before.X_WN):
        rest = frames.rests[0]
        motion = np.linalg.solve(to_array(rig.matrix_world), to_scene(pose.X_WN, metres_per_unit))
        rig.pose.bones[frames.names[0]].matrix_basis = to_matrix(np.linalg.solve(rest, motion @ rest))


def _list_turned(pose: Pose, before: Pose, plan: RigPlan) -> list[int]:
    """Rows of the bones that stand at other angles in the one pose than in the other."""
    turned = []
    for row, bone in enumerate(plan.bones[1:], start=1):
        own, was = (known.angles_rad.get(bone.element, NEUTRAL) for known in (pose, before))
        # Joints that a tool leaves alone keep their very arrays; three numbers compare sooner as a list.
        if own is not was and own.tolist() != was.tolist():
            turned.append(row)
    return turned


def _turn_bone(bone: bpy.types.PoseBone, rotation: Matrix) -> None:
    bone.location, bone.scale = (0, 0, 0), (1, 1, 1)
    if bone.rotation_mode == "QUATERNION":
        bone.rotation_quaternion = rotation.to_quaternion()
    elif bone.rotation_mode == "AXIS_ANGLE":
        axis, angle = rotation.to_quaternion().to_axis_angle()
        bone.rotation_axis_angle = (angle, *axis)
    else:
        bone.rotation_euler = rotation.to_euler(bone.rotation_mode)


def _find_bones(rig: bpy.types.Object, plan: RigPlan) -> list[str]:
    try:
        return order_bones(rig, plan)
    except KeyError as error:
        what = f"the rig has no bone for {error.args[0]}"
        raise SkeletonError(rig.name, what, "undo the change of bones, or build the rig again") from error
