"""What an add-on can leave in Blender: classes, operators, properties, handlers, timers, drawing, keys, menu entries.

python traces.py ZIP OUT installs the zip, switches it off and on and off again, and writes as JSON what is another than
before, after each. BLENDER_USER_RESOURCES must name a fresh folder: a Blender that nobody has used.
"""

from __future__ import annotations

import inspect
import json
import os
import sys
from pathlib import Path
from typing import Any

import bpy

PACKAGE = "bl_ext.user_default.counterpoise"

drawn: dict[int, str] = {}
"""Draw handlers that are on, by the identity of their handle."""


def watch_drawing() -> None:
    """From now on keep a list of the draw handlers of every editor: Blender does not give them out."""
    if not hasattr(bpy.types.SpaceView3D.draw_handler_add, "watched"):
        found = {
            name: getattr(bpy.types, name) for name in dir(bpy.types) if name.startswith("Space") and name != "Space"
        }
        spaces = {name: space for name, space in found.items() if hasattr(space, "draw_handler_add")}
        own = {name: (space.draw_handler_add, space.draw_handler_remove) for name, space in spaces.items()}
        for name, space in spaces.items():
            _watch_space(name, space, *own[name])


def _watch_space(name: str, space: Any, add: Any, remove: Any) -> None:
    def keep(*given: Any) -> Any:
        handle = add(*given)
        drawn[id(handle)] = name
        return handle

    def drop(handle: Any, *given: Any) -> None:
        drawn.pop(id(handle), None)
        remove(handle, *given)

    keep.watched = True
    space.draw_handler_add, space.draw_handler_remove = keep, drop


def list_traces() -> dict[str, Any]:
    """Everything there is now, by kind, in a form that can be compared."""
    types = {name: getattr(bpy.types, name) for name in dir(bpy.types)}
    return {
        "classes": sorted(types),
        "operators": sorted(f"{group}.{name}" for group in dir(bpy.ops) for name in dir(getattr(bpy.ops, group))),
        "properties": {name: sorted(t.bl_rna.properties.keys()) for name, t in types.items() if hasattr(t, "bl_rna")},
        "handlers": list_handlers(),
        "timers": list_timers(),
        "drawing": sorted(drawn.values()),
        "keys": list_keys(),
        "menus": {name: count for name, t in types.items() if (count := count_entries(t))},
    }


def list_handlers() -> dict[str, list[str]]:
    names = [name for name in dir(bpy.app.handlers) if isinstance(getattr(bpy.app.handlers, name), list)]
    return {name: sorted(map(describe, getattr(bpy.app.handlers, name))) for name in names}


def describe(function: Any) -> str:
    return f"{getattr(function, '__module__', '')}.{getattr(function, '__qualname__', function)}"


def list_timers() -> list[str]:
    """Blender does not list its timers: ask for each function of the add-on."""
    found = set()
    for name, module in list(sys.modules.items()):
        if name.startswith(PACKAGE) and module is not None:
            for _, function in inspect.getmembers(module, inspect.isfunction):
                if bpy.app.timers.is_registered(function):
                    found.add(describe(function))
    return sorted(found)


def list_keys() -> dict[str, int]:
    found = {}
    for config in bpy.context.window_manager.keyconfigs:
        for keymap in config.keymaps:
            place = f"{config.name}: {keymap.name} {keymap.space_type} {keymap.region_type}"
            found[place] = found.get(place, 0) + len(keymap.keymap_items)
    return {place: count for place, count in found.items() if count}


def count_entries(shown: Any) -> int:
    """How many functions were added to the drawing of a menu, header or panel; the first is its own."""
    return max(0, len(getattr(getattr(shown, "draw", None), "_draw_funcs", ())) - 1)


def list_differences(before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    """What is another, by kind: from, to."""
    found: dict[str, Any] = {}
    for kind in before:
        old, new = before[kind], after[kind]
        if old != new and isinstance(old, dict):
            names = sorted(name for name in {*old, *new} if old.get(name) != new.get(name))
            found[kind] = {name: (old.get(name), new.get(name)) for name in names}
        elif old != new:
            found[kind] = (sorted(set(old) - set(new)), sorted(set(new) - set(old)))
    return found


def main() -> None:
    """Print what is another than before the zip was installed: on, off, on again, off again."""
    watch_drawing()
    before = list_traces()
    bpy.ops.extensions.package_install_files(filepath=sys.argv[1], repo="user_default", enable_on_install=True)
    found = {"on": list_differences(before, list_traces())}
    for name in ("off", "on again", "off again"):
        handlers = sys.modules[f"{PACKAGE}.bridge.handlers"]
        if name.startswith("off"):  # without a window the add-on starts no timer: leave it one to clear up
            bpy.app.timers.register(handlers.compute_figures, first_interval=1000)
            bpy.ops.preferences.addon_disable(module=PACKAGE)
        else:
            bpy.ops.preferences.addon_enable(module=PACKAGE)
        found[name] = list_differences(before, list_traces())
    Path(sys.argv[2]).write_text(json.dumps(found, indent=1), "utf-8")


if __name__ == "__main__":
    try:
        main()
    finally:
        os._exit(not Path(sys.argv[2]).exists())  # with a timer left to it Blender would not end
