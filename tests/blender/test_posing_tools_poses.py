"""Whole poses edited: mirrored, blended, brought inside; each tool is one step of undo."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from posing_drive import PosingDrive, angles, channels
from scenes import Scene

op = bpy.ops.counterpoise


def test_a_pose_is_mirrored_and_a_side_copied(animal_scene: Scene) -> None:
    animal_scene.write_pose({"V3": np.array([0.1, 0.2, -0.1]), "leg V2 left": np.array([0.2, 0.1, 0.1])})
    assert op.flip_side() == {"FINISHED"}
    assert angles(animal_scene, "leg V2 right") == pytest.approx([0.2, 0.1, 0.1], abs=1e-5)
    animal_scene.write_pose({"V3": np.array([0.1, 0.2, -0.1]), "leg V2 left": np.array([0.2, 0.1, 0.1])})
    assert op.mirror_pose() == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx([0.1, -0.2, 0.1], abs=1e-5)
    assert angles(animal_scene, "leg V2 right") == pytest.approx([0.2, 0.1, 0.1], abs=1e-5)
    assert angles(animal_scene, "leg V2 left") == pytest.approx([0, 0, 0], abs=1e-5)


def test_two_poses_are_blended_and_a_chain_goes_back(animal_scene: Scene, part) -> None:
    animal_scene.write_pose({"V3": np.array([0.3, 0.0, 0.0]), "V7": np.array([0.0, 0.2, 0.0])})
    op.save_pose(name="bent")
    assert op.neutral_chain(chain="tail") == {"FINISHED"}
    assert angles(animal_scene, "V7") == pytest.approx([0, 0, 0], abs=1e-6)
    assert angles(animal_scene) == pytest.approx([0.3, 0, 0], abs=1e-5)
    op.reset_pose()
    assert op.blend_pose(name="bent", share=0.25) == {"FINISHED"}
    assert angles(animal_scene, "V7") == pytest.approx([0, 0.05, 0], abs=1e-5)
    op.reset_pose()
    drive = PosingDrive(part, part("operators.pose_edits").COUNTERPOISE_OT_blend_pose, name="bent")
    drive.begin(100, 100)
    drive.move(300, 100)
    assert drive.lines == ("bent", "50 % of the way")
    assert drive.press("LEFTMOUSE") == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx([0.15, 0, 0], abs=1e-5)


def test_what_is_outside_comes_to_the_nearest_allowed_attitude(animal_scene: Scene, part) -> None:
    animal_scene.settings.hold_limits = False
    animal_scene.write_pose({"V3": np.array([0.7, 0.1, 0.0]), "V7": np.array([0.0, 0.2, 0.0])})
    told = part("bridge.posing_text").word_changes
    kept = part("bridge.kept_document").keep_document(bpy.context.scene)
    found = part("core_calcs.studies.posing_edits").nearest_allowed(kept.posing, animal_scene.read_pose())
    assert told(found.changes) == "Brought inside: V3 by 17.2° (flexion: set by hand)"
    assert op.nearest_allowed() == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx([0.4, 0.1, 0], abs=1e-3)
    assert angles(animal_scene, "V7") == pytest.approx([0, 0.2, 0], abs=1e-5)
    assert told(()) == "Every joint is inside its range: nothing has changed"


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("turn_joint", {"element": "V3", "flexion": 0.2}),
        ("bend_chain", {"chain": "tail", "lateral": 0.3}),
        ("reach", {"element": "V9", "target": (-0.25, 0.05, 0.45)}),
        ("move_body", {"offset": (0.1, 0.0, 0.0), "hold_feet": False}),
        ("mirror_pose", {}),
        ("neutral_chain", {"chain": "trunk"}),
    ],
)
def test_each_is_one_step_of_undo(animal_scene: Scene, name: str, given: dict) -> None:
    animal_scene.write_pose({"V4": np.array([0.1, 0.2, 0.0])})
    bpy.ops.ed.undo_push(message="Begin")
    before = channels(animal_scene)
    assert getattr(op, name)("EXEC_DEFAULT", True, **given) == {"FINISHED"}
    after = channels(animal_scene)
    assert after != before
    bpy.ops.ed.undo()
    assert channels(animal_scene) == before
    bpy.ops.ed.redo()
    assert channels(animal_scene) == after
