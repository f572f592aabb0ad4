"""The steps of the work, each callable from a script as `bpy.ops.counterpoise.*`."""

from __future__ import annotations

from . import (
    acting,
    assembling,
    auditing,
    beginning,
    bending,
    bones,
    casting,
    clearance,
    comparing,
    contacts,
    corrections,
    discs,
    documents,
    elements,
    feet,
    footings,
    handing_over,
    joint_frames,
    joints,
    keyframing,
    marking,
    meshes,
    moving,
    pages,
    parts,
    placing,
    pose_edits,
    posing,
    posing_keys,
    reaching,
    reference_pictures,
    resting,
    saved_poses,
    searching,
    siting,
    skeleton_choice,
    skeletons,
    surveying,
    turning,
    weighings,
)

PARTS = (
    pages,
    surveying,
    elements,
    skeletons,
    documents,
    beginning,
    skeleton_choice,
    joints,
    marking,
    searching,
    joint_frames,
    discs,
    meshes,
    casting,
    weighings,
    parts,
    placing,
    assembling,
    bones,
    auditing,
    corrections,
    posing,
    feet,
    turning,
    bending,
    reaching,
    moving,
    pose_edits,
    reference_pictures,
    posing_keys,
    contacts,
    siting,
    footings,
    acting,
    clearance,
    resting,
    saved_poses,
    comparing,
    keyframing,
    handing_over,
)


def register() -> None:
    for part in PARTS:
        part.register()


def unregister() -> None:
    for part in reversed(PARTS):
        part.unregister()
