"""Keys of the posing tools, in pose mode; Blender's own keymap leaves them free."""

from __future__ import annotations

import bpy

KEYS = (
    ("counterpoise.turn_joint", {}),
    ("counterpoise.bend_chain", {"shift": True}),
    ("counterpoise.reach", {"alt": True}),
)
"""What J does, alone and with which other key held."""

MENU = "COUNTERPOISE_MT_posing"

_items: list[tuple[bpy.types.KeyMap, bpy.types.KeyMapItem]] = []


def register() -> None:
    own = bpy.context.window_manager.keyconfigs.addon
    if own is None:  # Blender has no keys without a window
        return
    keymap = own.keymaps.new(name="Pose")
    for operator, held in KEYS:
        _items.append((keymap, keymap.keymap_items.new(operator, "J", "PRESS", **held)))
    menu = keymap.keymap_items.new("wm.call_menu", "J", "PRESS", ctrl=True)
    menu.properties.name = MENU
    _items.append((keymap, menu))


def unregister() -> None:
    for keymap, item in _items:
        keymap.keymap_items.remove(item)
    _items.clear()
