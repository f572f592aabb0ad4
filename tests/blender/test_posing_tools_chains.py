"""A chain bent whole or in part, by mouse and from a script."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
import scenes
from posing_drive import PosingDrive, angles, channels, look_from, place_end
from scenes import Scene

op = bpy.ops.counterpoise


def test_a_chain_is_bent_whole_and_shared_out(animal_scene: Scene) -> None:
    scenes.take_bone(animal_scene, "V7")
    assert op.bend_chain(flexion=0.4) == {"FINISHED"}
    pose = animal_scene.read_pose()
    turned = [pose.angles_rad[name][0] for name in ("V6", "V7", "V8", "V9")]
    assert turned == pytest.approx([0.1] * 4, abs=1e-5)
    op.bend_chain(chain="tail", flexion=-0.4)
    op.bend_chain(chain="tail", flexion=0.4, fall_off=1.0)
    turned = [animal_scene.read_pose().angles_rad.get(name, np.zeros(3))[0] for name in ("V6", "V7", "V8", "V9")]
    assert sum(turned) == pytest.approx(0.4, abs=1e-4)
    assert sorted(turned, reverse=True) == turned
    assert turned[3] == pytest.approx(0, abs=1e-5)


def test_part_of_a_chain_is_bent(animal_scene: Scene) -> None:
    assert op.bend_chain(chain="tail", first="V7", last="V8", flexion=0.4) == {"FINISHED"}
    turned = [angles(animal_scene, name)[0] for name in ("V6", "V7", "V8", "V9")]
    assert turned == pytest.approx([0, 0.2, 0.2, 0], abs=1e-5)


def test_by_mouse_the_selected_part_of_a_chain_is_bent(animal_scene: Scene, part) -> None:
    scenes.take_bone(animal_scene, "V7")
    bone = animal_scene.bone_of("V8")
    (bone if hasattr(bone, "select") else bone.bone).select = True
    drive = PosingDrive(part, part("operators.bending").COUNTERPOISE_OT_bend_chain)
    drive.begin(100, 100)
    drive.press("FOUR")
    turned = [angles(animal_scene, name)[0] for name in ("V6", "V7", "V8", "V9")]
    assert turned == pytest.approx(np.radians([0, 2, 2, 0]), abs=1e-5)
    assert drive.lines[0] == "tail, V7 to V8"


def test_a_chain_goes_no_farther_than_its_joints(animal_scene: Scene) -> None:
    assert op.bend_chain(chain="tail", lateral=9) == {"FINISHED"}
    for name in ("V6", "V7", "V8", "V9"):
        assert angles(animal_scene, name)[1] == pytest.approx(0.4, abs=1e-3)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"chain": "wing"}, "no chain has that name"),
        ({"chain": "tail", "first": "V2"}, "no joint in tail"),
        ({}, "none is in hand"),
    ],
)
def test_a_chain_that_is_not_there_is_refused(animal_scene: Scene, given: dict, message: str) -> None:
    before = channels(animal_scene)
    with pytest.raises(RuntimeError, match=message):
        op.bend_chain(**given, flexion=0.1)
    assert channels(animal_scene) == before


@pytest.mark.parametrize("view", [None, look_from((0, 0, 1), (0, 1, 0), 2.0)])
def test_the_tip_of_a_chain_follows_the_mouse(animal_scene: Scene, part, view) -> None:
    """From the side the tail bends up, from above to its side; falloff by the wheel; Esc takes it all back."""
    scenes.take_bone(animal_scene, "V8")
    drive = PosingDrive(part, part("operators.bending").COUNTERPOISE_OT_bend_chain, view)
    before, start = channels(animal_scene), place_end(animal_scene, "V9")
    assert drive.begin(100, 100) == {"RUNNING_MODAL"}
    drive.move(100, 120)
    gone = place_end(animal_scene, "V9") - start
    shown, hidden = (2, 1) if view is None else (1, 2)
    assert gone[shown] == pytest.approx(20 / 400, rel=0.15)  # 400 px a scene unit
    assert abs(gone[hidden]) < 1e-3
    assert drive.lines[0] == "tail"
    first = angles(animal_scene, "V9")
    drive.press("WHEELUPMOUSE", "WHEELUPMOUSE")
    assert "falloff +0.2" in drive.lines
    assert np.linalg.norm(angles(animal_scene, "V9")) < np.linalg.norm(first)
    assert drive.press("ESC") == {"CANCELLED"}
    assert channels(animal_scene) == before
