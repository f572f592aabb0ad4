"""What an add-on can leave in Blender: classes, operators, properties, handlers, timers, drawing, keys, menu entries.

python traces.py ZIP OUT installs the zip, switches it off and on and off again, and writes as JSON what is another than
before, after each; and what is noticed of things that were left on purpose. BLENDER_USER_RESOURCES must name a fresh
folder: a Blender that nobody has used. It is a process of its own that ends without Blender's leave: one that has had
such things left in it may never end by itself (4.5).
"""

from __future__ import annotations

import inspect
import json
import os
import sys
from collections.abc import Callable
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


def leave_handler() -> Callable[[], object]:
    bpy.app.handlers.undo_pre.append(leave_handler)
    return lambda: bpy.app.handlers.undo_pre.remove(leave_handler)


def leave_timer() -> Callable[[], object]:
    compute = sys.modules[f"{PACKAGE}.bridge.handlers"].compute_figures
    bpy.app.timers.register(compute, first_interval=1000)
    return lambda: bpy.app.timers.unregister(compute)


def leave_class() -> Callable[[], object]:
    left = type("COUNTERPOISE_OT_left", (bpy.types.Operator,), {"bl_idname": "counterpoise.left", "bl_label": "Left"})
    bpy.utils.register_class(left)
    return lambda: bpy.utils.unregister_class(left)


def leave_property() -> Callable[[], object]:
    bpy.types.WindowManager.left = bpy.props.BoolProperty()
    return lambda: delattr(bpy.types.WindowManager, "left")


def leave_key() -> Callable[[], object]:
    keymap = bpy.context.window_manager.keyconfigs.addon.keymaps.new("Pose")
    item = keymap.keymap_items.new("pose.select_all", "F20", "PRESS")
    return lambda: keymap.keymap_items.remove(item)


def leave_menu_entry() -> Callable[[], object]:
    def draw(_menu: object, _context: object) -> None:
        pass

    bpy.types.VIEW3D_MT_pose.append(draw)
    return lambda: bpy.types.VIEW3D_MT_pose.remove(draw)


def leave_drawing() -> Callable[[], object]:
    handle = bpy.types.SpaceView3D.draw_handler_add(lambda: None, (), "WINDOW", "POST_VIEW")
    return lambda: bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")


LEAVERS = {
    "handler": leave_handler,
    "timer": leave_timer,
    "class": leave_class,
    "property": leave_property,
    "key": leave_key,
    "menu entry": leave_menu_entry,
    "drawing": leave_drawing,
}


def leave_each() -> dict[str, tuple[dict[str, Any], dict[str, Any]]]:
    """Leave one thing after the other: what is noticed of it, and what still is once it is cleared up."""
    found = {}
    for name, leave in LEAVERS.items():
        before = list_traces()
        clear_up = leave()
        noticed = list_differences(before, list_traces())
        clear_up()
        found[name] = (noticed, list_differences(before, list_traces()))
    return found


def clear_handlers() -> None:
    """As scripts do that want none of the add-on's called, or clear the lists whole."""
    for name in list_handlers():
        listed = getattr(bpy.app.handlers, name)
        for handler in [own for own in listed if describe(own).startswith(PACKAGE)]:
            listed.remove(handler)


def main() -> None:
    """Print what is another than before the zip was installed: on, off, on again, off again."""
    watch_drawing()
    before = list_traces()
    bpy.ops.extensions.package_install_files(filepath=sys.argv[1], repo="user_default", enable_on_install=True)
    found = {"on": list_differences(before, list_traces())}
    found["left"] = leave_each()
    for name in ("off", "on again", "off again"):
        handlers = sys.modules[f"{PACKAGE}.bridge.handlers"]
        if name.startswith("off"):  # without a window the add-on starts no timer: leave it one to clear up
            bpy.app.timers.register(handlers.compute_figures, first_interval=1000)
            if name == "off again":
                clear_handlers()
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
