"""The steps of the work, each callable from a script as `bpy.ops.counterpoise.*`."""

from __future__ import annotations

from . import (
    casting,
    contacts,
    documents,
    elements,
    handing_over,
    joints,
    marking,
    meshes,
    parts,
    placing,
    posing,
    saved_poses,
    skeleton_choice,
    skeletons,
    surveying,
    weighings,
)

PARTS = (
    surveying,
    elements,
    skeletons,
    documents,
    skeleton_choice,
    joints,
    marking,
    meshes,
    casting,
    weighings,
    parts,
    placing,
    posing,
    contacts,
    saved_poses,
    handing_over,
)


def register() -> None:
    for part in PARTS:
        part.register()


def unregister() -> None:
    for part in reversed(PARTS):
        part.unregister()
