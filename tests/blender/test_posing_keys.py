"""The keys of the posing tools are free in Blender's own keymap."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import bpy


def test_no_key_is_taken_from_blender(part) -> None:
    """By the keymap that Blender's own preset makes, of all that hears keys over the view in pose mode."""
    folder = Path(bpy.utils.system_resource("SCRIPTS")) / "presets" / "keyconfig" / "keymap_data"
    source = next(iter(folder.glob("blender_default.py")))
    spec = importlib.util.spec_from_file_location("blender_default_keys", source)
    keys = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = keys  # its dataclasses look themselves up
    spec.loader.exec_module(keys)
    heard = ("Pose", "3D View", "3D View Generic", "Object Non-modal", "Frames", "Window", "Screen", "Screen Editing")
    found = {name: content["items"] for name, _, content in keys.generate_keymaps(keys.Params()) if name in heard}
    assert len(found) == len(heard)
    taken = {
        (event["type"], *(bool(event.get(key)) for key in ("shift", "ctrl", "alt", "oskey")))
        for items in found.values()
        for _, event, _ in items
    }
    assert ("R", False, False, True, False) in taken  # pose.rot_clear: the list has teeth
    own = [
        ("J", bool(held.get("shift")), False, bool(held.get("alt")), False)
        for _, held in part("operators.posing_keys").KEYS
    ]
    own.append(("J", False, True, False, False))
    assert len(set(own)) == 4
    assert not taken & set(own)
    items = bpy.context.window_manager.keyconfigs.addon.keymaps["Pose"].keymap_items
    mine = [
        (i.type, i.shift_ui, i.ctrl_ui, i.alt_ui, False)
        for i in items
        if "counterpoise" in i.idname or i.idname == "wm.call_menu"
    ]
    assert set(mine) == set(own)
