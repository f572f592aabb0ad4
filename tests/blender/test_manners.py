"""Small manners: what is in hand after a step, names, paths that can be read, units of the scene."""

from __future__ import annotations

import bpy
import pytest
import scenes
from scenes import Scene


def test_the_rig_is_in_hand_after_building(animal_files, part) -> None:
    bpy.ops.mesh.primitive_cube_add()
    cube = bpy.context.object
    bpy.ops.object.mode_set(mode="EDIT")
    folder, table = animal_files
    bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm")
    rig = Scene(part).rig
    assert bpy.context.view_layer.objects.active == rig
    assert bpy.context.selected_objects == [rig]
    assert not cube.select_get()
    assert bpy.context.mode == "OBJECT"
    assert bpy.ops.object.posemode_toggle() == {"FINISHED"}
    assert bpy.context.mode == "POSE"


def test_setting_a_joint_stays_in_pose_mode_with_its_bone(animal_scene: Scene) -> None:
    bpy.context.view_layer.objects.active = animal_scene.rig
    bpy.ops.object.mode_set(mode="POSE")
    animal_scene.rig.data.bones.active = animal_scene.bone_of("V7").bone
    scenes.set_joint("V3", (0.1, 0.0, 0.41), (0, 1, 0), (1, 0, 0), ((-0.4, 0.3),) * 3)
    assert bpy.context.mode == "POSE"
    assert bpy.context.object == animal_scene.rig
    assert bpy.context.active_pose_bone.bone["counterpoise_element"] == "V7"


def test_the_skeleton_is_named_after_its_folder_unless_it_is_given_a_name(animal_files, part) -> None:
    folder, table = animal_files
    given = {"folder": str(folder), "table_path": str(table), "unit": "mm"}
    bpy.ops.counterpoise.import_skeleton(**given)
    assert Scene(part).document.skeleton.name == folder.name
    bpy.ops.counterpoise.import_skeleton(**given, name=" Long neck ")
    assert Scene(part).document.skeleton.name == "Long neck"


@pytest.mark.parametrize(
    ("path", "letters", "shown"),
    [
        ("/scans", 20, "/scans"),
        ("/a/long/way/to/the/scans/", 14, "…/to/the/scans"),
        ("/a/long/way/to/the/scans/", 13, "…/the/scans"),
        ("C:\\find\\1987\\scans", 13, "…\\1987\\scans"),
        ("/a/folder_with_a_very_long_name", 12, "…y_long_name"),
    ],
)
def test_the_end_of_a_long_path_is_shown(part, path: str, letters: int, shown: str) -> None:
    assert part("panels.tab").end_of_path(path, letters) == shown
    assert len(shown) <= letters
