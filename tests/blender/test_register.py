"""Switched on, off and on again, the add-on leaves nothing behind in Blender."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

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
        "depsgraph_update_post", "frame_change_post", "load_post", "load_pre", "redo_post", "save_post",
        "save_post_fail", "save_pre", "undo_post",
    ]  # fmt: skip
    assert "counterpoise" in on["properties"]["Scene"][1]


@pytest.mark.parametrize("when", ["off", "off again"])
def test_switched_off_nothing_is_left(found, when: str) -> None:
    assert found[when] == {}


def test_switched_on_again_it_is_what_it_was(found) -> None:
    assert found["on again"] == found["on"]


@pytest.mark.parametrize(
    ("left", "kinds"),
    [
        ("handler", {"handlers"}),
        ("timer", {"timers"}),
        ("class", {"classes", "operators"}),
        ("property", {"properties"}),
        ("key", {"keys"}),
        ("menu entry", {"menus"}),
        ("drawing", {"drawing"}),
    ],
)
def test_what_is_left_would_be_noticed(found, left: str, kinds: set[str]) -> None:
    """The lists have teeth: each kind of thing left behind is a difference, and clearing it up ends that."""
    noticed, after_clearing = found["left"][left]
    assert kinds <= set(noticed)
    assert after_clearing == {}
