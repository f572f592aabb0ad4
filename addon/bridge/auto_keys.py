"""Blender's Auto Keying once a tool has posed the rig: what it has turned or moved is keyed, as by Blender itself."""

from __future__ import annotations

import bpy

from .keyframes import ROTATIONS
from .rig_in_hand import CHANNELS, Channels

OPTIONS = {
    "use_keyframe_insert_available": "INSERTKEY_AVAILABLE",
    "use_auto_keyframe_insert_needed": "INSERTKEY_NEEDED",
    "use_visual_keying": "INSERTKEY_VISUAL",
}
"""By preference of Blender's, what it asks of a key."""

LEAST = 1e-6
"""Radians and scene units: what is written again comes back with other last digits."""

PARTS = {"location": "Loc", "rotation": "Rot"}
"""How the names of Blender's keying sets say what they key."""


def is_keying(context: bpy.types.Context) -> bool:
    """Whether Auto Keying is on in the scene."""
    return bool(context.scene.tool_settings.use_keyframe_insert_auto)


def key_changed(context: bpy.types.Context, rig: bpy.types.Object, before: Channels) -> None:
    """Key the rotations and places of bones that are not what they were, where Auto Keying is on.

    Where a key cannot be put Blender says so itself, and the pose stays.

    before : the bones' channels by name, as they were
    """
    if not is_keying(context):
        return
    settings, edit = context.scene.tool_settings, context.preferences.edit
    options = {option for name, option in OPTIONS.items() if getattr(edit, name, False)}
    if settings.auto_keying_mode == "REPLACE_KEYS":
        options.add("INSERTKEY_REPLACE")
    if settings.use_keyframe_cycle_aware:
        options.add("INSERTKEY_CYCLE_AWARE")
    asked = context.scene.keying_sets_all.active if settings.use_keyframe_insert_keyingset else None
    if asked is not None and asked.bl_idname == "Available":
        options.add("INSERTKEY_AVAILABLE")
    for bone, path in _list_changed(rig, before):
        if asked is None or _asks_for(asked, rig, bone, path):
            bone.keyframe_insert(path, group=bone.name, options=options, keytype=settings.keyframe_type)


def _list_changed(rig: bpy.types.Object, before: Channels) -> list[tuple[bpy.types.PoseBone, str]]:
    found = []
    for bone in rig.pose.bones:
        for path in (ROTATIONS.get(bone.rotation_mode, "rotation_euler"), "location"):
            was = before[bone.name][CHANNELS.index(path)] if bone.name in before else ()
            if any(abs(value - own) > LEAST for value, own in zip(getattr(bone, path), was, strict=False)):
                found.append((bone, path))
    return found


def _asks_for(asked: bpy.types.KeyingSet, rig: bpy.types.Object, bone: bpy.types.PoseBone, path: str) -> bool:
    """Whether a keying set keys a channel: one of the user's by its paths, one of Blender's by its name."""
    if asked.is_path_absolute:
        return any(own.id == rig and own.data_path == bone.path_from_id(path) for own in asked.paths)
    name, part = asked.bl_idname, PARTS[path.partition("_")[0]]
    return part in name or name.startswith(("Available", "WholeCharacter"))
