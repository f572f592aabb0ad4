"""Switched on, off and on again, the add-on leaves nothing behind in Blender."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import bpy
import pytest
import traces

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def found(extension_zip: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict]:
    """What is another in a fresh Blender than before the zip was installed, after each switching."""
    top = tmp_path_factory.mktemp("fresh")
    environment = {**os.environ, "BLENDER_USER_RESOURCES": str(top / "user")}
    command = [sys.executable, str(HERE / "traces.py"), str(extension_zip), str(top / "found.json")]
    run = subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=120)
    assert run.returncode == 0, run.stdout + run.stderr
    return json.loads((top / "found.json").read_text("utf-8"))


def test_switched_on_it_is_there(found) -> None:
    on = found["on"]
    assert "COUNTERPOISE_PT_figures" in on["classes"][1]
    assert "counterpoise.save_pose" in on["operators"][1]
    assert list(on["handlers"]) == [
        "depsgraph_update_post", "frame_change_post", "load_post", "load_pre", "redo_post", "save_pre", "undo_post",
    ]  # fmt: skip
    assert "counterpoise" in on["properties"]["Scene"][1]


@pytest.mark.parametrize("when", ["off", "off again"])
def test_switched_off_nothing_is_left(found, when: str) -> None:
    assert found[when] == {}


def test_switched_on_again_it_is_what_it_was(found) -> None:
    assert found["on again"] == found["on"]


def leave_handler() -> Callable[[], object]:
    bpy.app.handlers.undo_pre.append(leave_handler)
    return lambda: bpy.app.handlers.undo_pre.remove(leave_handler)


def leave_timer() -> Callable[[], object]:
    compute = sys.modules[f"{traces.PACKAGE}.bridge.handlers"].compute_figures
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


@pytest.mark.parametrize(
    ("leave", "kinds"),
    [
        (leave_handler, {"handlers"}),
        (leave_timer, {"timers"}),
        (leave_class, {"classes", "operators"}),
        (leave_property, {"properties"}),
        (leave_key, {"keys"}),
        (leave_menu_entry, {"menus"}),
        (leave_drawing, {"drawing"}),
    ],
)
def test_what_is_left_would_be_noticed(leave: Callable[[], Callable[[], object]], kinds: set[str]) -> None:
    """The lists have teeth: each kind of thing left behind is a difference, and clearing it up ends that."""
    traces.watch_drawing()
    before = traces.list_traces()
    clear_up = leave()
    try:
        assert kinds <= set(traces.list_differences(before, traces.list_traces()))
    finally:
        clear_up()
    assert traces.list_differences(before, traces.list_traces()) == {}
