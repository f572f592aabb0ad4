"""The file without the add-on, the add-on switched off and on in an open file, rendering in the background."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest
from scenes import PACKAGE, Scene

HERE = Path(__file__).parent
TEXT = "animal skeleton.json"

op = bpy.ops.counterpoise


@pytest.fixture
def full(animal_scene: Scene) -> Scene:
    """A skeleton with something of every kind: poses, checked rows, site, an action, castings, a second skeleton."""
    animal_scene.write_pose({"V3": (0.2, 0.0, 0.0)})
    op.save_pose(name="bent")
    animal_scene.settings.poses[1].compared = True
    animal_scene.settings.recorded_by = "A. Somebody"
    op.set_site(ground=-0.25, friction=0.5)
    op.set_factors(variable_against=1.4)
    op.weigh(name="V6", mass=1.5, uncertainty=0.125)
    op.let_bear(name="hind left foot", bears=False)
    return animal_scene


def look(scene: Scene) -> dict[str, Any]:
    """All that must come back: document, settings, rows, pose, figures."""
    settings, figures = scene.settings, scene.part("bridge.figures")
    figures.refresh_figures(bpy.context)
    pose = scene.read_pose()
    return {
        "document": settings.document.as_string(),
        "mark": settings.mark,
        "rows": [(row.name, row.compared) for row in settings.poses],
        "records": [row.name for row in settings.records],
        "by": settings.recorded_by,
        "angles": {child: angles.tolist() for child, angles in pose.angles_rad.items()},
        "idle": pose.idle_feet,
        "live": figures.live_figures(),
        "saved": figures.saved_figures(),
        "objects": {thing.name: sorted(thing.keys()) for thing in bpy.data.objects},
        "constraints": [c.name for bone in scene.rig.pose.bones for c in bone.constraints],
    }


def test_a_blender_without_the_add_on_opens_and_saves_it(full, tmp_path: Path) -> None:
    """No error on its console; purging takes nothing of the skeleton; with the add-on again all is as before."""
    path = tmp_path / "full.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    before = look(full)
    environment = {**os.environ, "BLENDER_USER_RESOURCES": str(tmp_path / "fresh")}
    command = [sys.executable, str(HERE / "without.py"), str(path)]
    run = subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=120)
    assert run.returncode == 0, run.stdout + run.stderr
    assert not re.search("error|warning|traceback|missing|unknown", run.stdout + run.stderr, re.IGNORECASE), run.stderr
    seen = json.loads(run.stdout.partition("SEEN ")[2].splitlines()[0])
    assert seen == {"property": False, "texts": ["Joints", TEXT], "objects": 14, "handlers": []}
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.ops.wm.open_mainfile(filepath=str(path))
    assert look(full) == before


def test_switched_off_saved_and_on_again(full, tmp_path: Path) -> None:
    """Even saved elsewhere while it is off: the scans are found from where they were counted before."""
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "full.blend"))
    before = look(full)
    place = tmp_path / "deep" / "er" / "full.blend"
    place.parent.mkdir(parents=True)
    bpy.ops.preferences.addon_disable(module=PACKAGE)
    try:
        assert not hasattr(bpy.context.scene, "counterpoise")
        bpy.ops.wm.save_as_mainfile(filepath=str(place))
        bpy.ops.wm.open_mainfile(filepath=str(place))
    finally:
        bpy.ops.preferences.addon_enable(module=PACKAGE)
    assert look(full) == before
    kept, text = full.part("bridge.kept_document"), full.settings.document
    checks = full.part("core_calcs.document.meshes").check_meshes(full.document, kept.text_path(text))
    assert {check.state for check in checks} == {"as recorded"}


@pytest.mark.parametrize("engine", ["BLENDER_WORKBENCH", "CYCLES"])
def test_rendering_changes_nothing(full, tmp_path: Path, engine: str) -> None:
    scene = bpy.context.scene
    camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    scene.collection.objects.link(camera)
    camera.location, camera.rotation_euler, scene.camera = (0, -2, 0.5), (1.4, 0, 0), camera
    scene.render.engine, scene.render.filepath = engine, str(tmp_path / "picture.png")
    scene.render.resolution_x = scene.render.resolution_y = 32
    if engine == "CYCLES":
        scene.cycles.samples = 1
    before = look(full)
    assert bpy.ops.render.render(write_still=True) == {"FINISHED"}
    assert (tmp_path / "picture.png").stat().st_size > 0
    assert look(full) == before


def test_frames_move_the_figures_and_nothing_else(full, part) -> None:
    """A bone with keys: the live figures are those of the frame, and come back with it."""
    scene, bone, figures = bpy.context.scene, full.bone_of("V7"), part("bridge.figures")
    for frame, angle in ((1, 0.0), (11, 0.1)):
        bone.rotation_euler = (angle, 0.0, 0.0)
        bone.keyframe_insert("rotation_euler", frame=frame)
    scene.frame_set(1)
    before = look(full)
    scene.frame_set(11)
    figures.refresh_figures(bpy.context)
    assert figures.live_figures() != before["live"]
    np.testing.assert_allclose(
        full.read_pose().angles_rad["V7"][0] * full.document.skeleton.joint_of("V7").senses[0], 0.1, atol=1e-6
    )
    assert full.settings.document.as_string() == before["document"]
    scene.frame_set(1)
    assert look(full) == before


def test_a_depsgraph_of_rendering_wakes_nothing(part, monkeypatch) -> None:
    handlers, woken = part("bridge.handlers"), []
    monkeypatch.setattr(handlers, "wake_timer", lambda: woken.append(1))

    class Graph:
        mode = "RENDER"

    handlers.note_change(None, Graph())
    assert woken == []
    Graph.mode = "VIEWPORT"
    handlers.note_change(None, Graph())
    assert woken == [1]
