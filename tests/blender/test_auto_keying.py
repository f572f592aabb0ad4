"""Blender's Auto Keying: what a posing tool has turned is keyed, and only that, and only where the setting is on."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import bpy
import numpy as np
import pytest
import scenes
from posing_drive import PosingDrive, angles
from scenes import Scene

op = bpy.ops.counterpoise


@pytest.fixture
def keying(animal_scene: Scene) -> Iterator[Scene]:
    """The animal with Auto Keying on, at frame 7; also what is not yet animated, which Blender 5.2 leaves out."""
    scene, edit = bpy.context.scene, bpy.context.preferences.edit
    available, edit.use_keyframe_insert_available = edit.use_keyframe_insert_available, False
    scene.tool_settings.use_keyframe_insert_auto = True
    scene.frame_set(7)
    yield animal_scene
    edit.use_keyframe_insert_available = available
    bpy.context.scene.tool_settings.use_keyframe_insert_auto = False


@pytest.fixture
def list_keys(part: Callable) -> Callable[[Scene], dict[str, list[float]]]:
    """By the path of each keyed channel its frames."""
    list_curves = part("bridge.keyframes").list_curves

    def read(scene: Scene) -> dict[str, list[float]]:
        data = scene.rig.animation_data
        if data is None or data.action is None:
            return {}
        found: dict[str, set[float]] = {}
        for curve in list_curves(scene.rig):
            found.setdefault(curve.data_path, set()).update(key.co.x for key in curve.keyframe_points)
        return {path: sorted(frames) for path, frames in found.items()}

    return read


def path_of(scene: Scene, element: str, channel: str = "rotation_euler") -> str:
    return scene.bone_of(element).path_from_id(channel)


def test_without_the_setting_nothing_is_keyed(animal_scene: Scene, list_keys) -> None:
    op.turn_joint(element="V3", flexion=0.2)
    op.bend_chain(chain="tail", flexion=0.2)
    assert animal_scene.rig.animation_data is None
    assert list_keys(animal_scene) == {}


def test_a_turned_joint_is_keyed_alone(keying: Scene, list_keys) -> None:
    assert op.turn_joint(element="V3", flexion=0.2) == {"FINISHED"}
    assert list_keys(keying) == {path_of(keying, "V3"): [7]}
    bpy.context.scene.frame_set(20)
    op.turn_joint(element="V3", flexion=-0.1)
    assert list_keys(keying) == {path_of(keying, "V3"): [7, 20]}
    for frame, flexion in ((7, 0.2), (20, -0.1)):
        bpy.context.scene.frame_set(frame)
        assert angles(keying)[0] == pytest.approx(flexion, abs=1e-5)


@pytest.mark.parametrize("available", [True, False])
@pytest.mark.parametrize("animated", [True, False])
def test_it_keys_where_blenders_own_turn_does(keying: Scene, list_keys, available: bool, animated: bool) -> None:
    """Whether channels that are not animated yet are keyed is a preference of Blender's."""
    bpy.context.preferences.edit.use_keyframe_insert_available = available
    found = []
    for turn in (lambda: op.turn_joint(flexion=0.2), lambda: bpy.ops.transform.rotate(value=0.2, orient_axis="Y")):
        keying.rig.animation_data_clear()
        scenes.take_bone(keying, "V3")
        if animated:
            keying.bone_of("V3").keyframe_insert("rotation_euler", frame=3)
        assert turn() == {"FINISHED"}
        found.append(any(7 in frames for frames in list_keys(keying).values()))
    assert found == [animated or not available] * 2


@pytest.mark.parametrize(
    ("name", "given", "elements"),
    [
        ("bend_chain", {"chain": "tail", "flexion": 0.3}, ("V6", "V7", "V8", "V9")),
        ("flip_side", {}, ("leg V2 right",)),
        ("neutral_chain", {"chain": "leg V2 left"}, ("leg V2 left",)),
        ("reset_pose", {}, ("leg V2 left",)),
    ],
)
def test_each_tool_keys_what_it_has_turned(keying: Scene, list_keys, name: str, given: dict, elements: tuple) -> None:
    keying.write_pose({"leg V2 left": np.array([0.2, 0.1, 0.1])})
    keying.rig.animation_data_clear()
    keying.write_pose({"leg V2 left": np.array([0.2, 0.1, 0.1])})
    assert list_keys(keying) == {}, "it was so already"
    assert getattr(op, name)(**given) == {"FINISHED"}
    assert list_keys(keying) == {path_of(keying, element): [7] for element in elements}


def test_the_body_is_keyed_by_its_place_and_turn(keying: Scene, list_keys) -> None:
    op.move_body(offset=(0.1, 0, 0), hold_feet=False)
    assert list_keys(keying) == {path_of(keying, "V5", "location"): [7]}
    op.move_body(turn=(0, 0, 0.2), hold_feet=False)
    assert path_of(keying, "V5", "rotation_quaternion") in list_keys(keying)


def test_a_drag_is_keyed_once_it_is_kept(keying: Scene, list_keys, part) -> None:
    scenes.take_bone(keying, "V3")
    drive = PosingDrive(part, part("operators.turning").COUNTERPOISE_OT_turn_joint)
    drive.begin(500, 300)
    drive.press("ONE", "ZERO")
    assert list_keys(keying) == {}
    drive.press("ESC")
    assert list_keys(keying) == {}
    drive.begin(500, 300)
    drive.press("ONE", "ZERO", "RET")
    assert list_keys(keying) == {path_of(keying, "V3"): [7]}
    assert drive.reports[-1][0] == {"INFO"}


def test_only_keys_that_are_there_are_replaced_where_the_scene_says_so(keying: Scene, list_keys) -> None:
    keying.bone_of("V3").keyframe_insert("rotation_euler", frame=7)
    settings = bpy.context.scene.tool_settings
    settings.auto_keying_mode = "REPLACE_KEYS"
    try:
        op.turn_joint(element="V3", flexion=0.2)
        op.turn_joint(element="V4", flexion=0.2)
        bpy.context.scene.frame_set(9)
        op.turn_joint(element="V3", flexion=0.1)
    finally:
        settings.auto_keying_mode = "ADD_REPLACE_KEYS"
    assert list_keys(keying) == {path_of(keying, "V3"): [7]}
    bpy.context.scene.frame_set(7)
    assert angles(keying)[0] == pytest.approx(0.2, abs=1e-5)


@pytest.mark.parametrize(("keying_set", "count"), [("Rotation", 1), ("Location", 0), ("BUILTIN_KSI_LocRot", 1)])
def test_only_what_the_active_keying_set_keys(keying: Scene, list_keys, keying_set: str, count: int) -> None:
    scene = bpy.context.scene
    sets = scene.keying_sets_all
    sets.active = next(own for own in sets if own.bl_idname == keying_set)
    scene.tool_settings.use_keyframe_insert_keyingset = True
    try:
        op.turn_joint(element="V3", flexion=0.2)
    finally:
        scene.tool_settings.use_keyframe_insert_keyingset = False
    assert len(list_keys(keying)) == count


def test_where_nothing_can_be_keyed_the_pose_stays(keying: Scene, list_keys, tmp_path) -> None:
    """The rig's action is linked from another file; Blender tells it by itself."""
    keying.bone_of("V4").keyframe_insert("rotation_euler", frame=3)
    name, path = keying.rig.animation_data.action.name, str(tmp_path / "actions.blend")
    bpy.data.libraries.write(path, {keying.rig.animation_data.action})
    keying.rig.animation_data_clear()
    with bpy.data.libraries.load(path, link=True) as (_, here):
        here.actions = [name]
    data = keying.rig.animation_data_create()
    data.action = here.actions[0]
    assert op.turn_joint(element="V3", flexion=0.2) == {"FINISHED"}
    assert path_of(keying, "V3") not in list_keys(keying)
    assert angles(keying)[0] == pytest.approx(0.2, abs=1e-5)


def test_keys_and_turn_are_one_step_of_undo(keying: Scene, list_keys) -> None:
    bpy.ops.ed.undo_push(message="Begin")
    op.turn_joint("EXEC_DEFAULT", True, element="V3", flexion=0.2)
    assert list_keys(keying)
    bpy.ops.ed.undo()
    assert list_keys(keying) == {}
    assert angles(keying) == pytest.approx(np.zeros(3), abs=1e-7)
    bpy.ops.ed.redo()
    assert list_keys(keying) == {path_of(keying, "V3"): [7]}
