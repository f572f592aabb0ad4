"""The keys of the posing tools are free in Blender's own keymap."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import bpy
import pytest

HEARD = {
    "pose": ("Pose", "Object Non-modal"),
    "object": ("Object Mode", "Object Non-modal"),
    "edit mesh": ("Mesh", "Object Non-modal"),
    "edit armature": ("Armature", "Object Non-modal"),
}
"""Of Blender's keymaps those of each mode; below, those that hear keys over the view in all of them."""
EVERYWHERE = ("3D View", "3D View Generic", "Frames", "Window", "Screen", "Screen Editing", "User Interface")

Key = tuple[str, bool, bool, bool, bool]
"""Its name, and whether Shift, Ctrl, Alt, the system's key are held."""

KNOWN: dict[str, Key] = {
    "pose": ("R", False, False, True, False),
    "object": ("J", False, True, False, False),
    "edit mesh": ("J", False, False, False, False),
    "edit armature": ("E", False, False, False, False),
}
"""A key of Blender's own in each mode: clear rotation, join, connect vertices, extrude."""


def own_keys(mode: str) -> set[Key]:
    """What the add-on hears in a mode over the view."""
    keymaps = bpy.context.window_manager.keyconfigs.addon.keymaps
    return {
        (item.type, item.shift_ui, item.ctrl_ui, item.alt_ui, item.oskey_ui)
        for keymap in keymaps
        for item in keymap.keymap_items
        if keymap.name in (*HEARD[mode], *EVERYWHERE)
        and ("counterpoise" in item.idname or "COUNTERPOISE" in getattr(item.properties, "name", ""))
    }


@pytest.mark.parametrize("options", [{}, {"select_mouse": "RIGHT"}, {"spacebar_action": "SEARCH"}, {"legacy": True}])
@pytest.mark.parametrize("mode", HEARD)
def test_no_key_is_taken_from_blender(part, mode: str, options: dict[str, object]) -> None:
    """By the keymaps that Blender's own preset makes, of all that hears keys over the view in each mode."""
    folder = Path(bpy.utils.system_resource("SCRIPTS")) / "presets" / "keyconfig" / "keymap_data"
    source = next(iter(folder.glob("blender_default.py")))
    spec = importlib.util.spec_from_file_location("blender_default_keys", source)
    keys = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = keys  # its dataclasses look themselves up
    spec.loader.exec_module(keys)
    heard = {*HEARD[mode], *EVERYWHERE}
    made = keys.generate_keymaps(keys.Params(**options))
    found = {name: content["items"] for name, _, content in made if name in heard}
    assert set(found) == heard
    taken = {
        (event["type"], *(bool(event.get(key)) for key in ("shift", "ctrl", "alt", "oskey")))
        for items in found.values()
        for _, event, _ in items
    }
    assert KNOWN[mode] in taken  # the list has teeth
    own = own_keys(mode)
    wanted = {
        ("J", bool(held.get("shift")), False, bool(held.get("alt")), False)
        for _, held in part("operators.posing_keys").KEYS
    }
    assert own == (wanted | {("J", False, True, False, False)} if mode == "pose" else set())
    assert not taken & own


def test_no_keymap_but_that_of_pose_mode_has_keys_of_ours() -> None:
    keymaps = bpy.context.window_manager.keyconfigs.addon.keymaps
    names = {k.name for k in keymaps for item in k.keymap_items if "counterpoise" in item.idname.lower()}
    assert names == {"Pose"}
