"""What goes wrong is told plainly, and the scene stays as it was."""

from __future__ import annotations

import json
from math import radians
from pathlib import Path

import bpy
import pytest
from mathutils import Euler
from scenes import scene_contents


def refuse(operator, message: str, **given) -> None:
    """The operator refuses with that message and leaves everything in the file as it was."""
    before = scene_contents()
    settings = bpy.context.scene.counterpoise
    kept = (settings.document, settings.rig)
    with pytest.raises(RuntimeError, match=message):
        operator(**given)
    assert scene_contents() == before
    assert (settings.document, settings.rig) == kept


def test_folder_that_is_not_there(tmp_path: Path) -> None:
    refuse(bpy.ops.counterpoise.survey_folder, "nowhere", folder=str(tmp_path / "nowhere"))
    assert not list(tmp_path.iterdir())


def test_no_folder_given() -> None:
    refuse(bpy.ops.counterpoise.survey_folder, "none is given", folder="")


def test_path_relative_to_a_blend_that_was_not_saved() -> None:
    refuse(bpy.ops.counterpoise.survey_folder, "has not been saved", folder="//scans")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("V1.stl,", "V11.stl,"), "V11.stl"),
        (("V3,dorsal", "V3,dorsle"), "dorsle"),
        (("fixed,a post", "fixed,"), "without a reason"),
        (("V4,dorsal,4,middle,V5", "V4,dorsal,4,middle,V1"), "circle"),
        (("V1.stl,", "../V1.stl,"), "V1.stl"),
    ],
)
def test_bad_table(animal_files, tmp_path: Path, change: tuple[str, str], message: str) -> None:
    folder, table = animal_files
    bad = tmp_path / "bad.csv"
    text = table.read_text("utf-8")
    assert change[0] in text
    bad.write_text(text.replace(*change), "utf-8")
    refuse(bpy.ops.counterpoise.import_skeleton, message, folder=str(folder), table_path=str(bad), unit="mm")


def test_document_of_a_newer_version(animal_scene, tmp_path: Path) -> None:
    document = json.loads(animal_scene.settings.document.as_string())
    document["version"] += 1
    path = tmp_path / "newer.json"
    path.write_text(json.dumps(document), "utf-8")
    refuse(bpy.ops.counterpoise.open_document, "newer", filepath=str(path))


def test_document_that_is_cut_off(animal_scene, tmp_path: Path) -> None:
    path = tmp_path / "cut.json"
    path.write_text(animal_scene.settings.document.as_string()[:5000], "utf-8")
    refuse(bpy.ops.counterpoise.open_document, "cut off", filepath=str(path))


def test_failure_half_way_takes_out_what_was_made(animal_files, part, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where building the rig fails, collection, proxies, text and armature are gone again."""
    folder, table = animal_files
    scene, errors = part("bridge.scene"), part("core_calcs.spatial.errors")

    def fail(*_args: object) -> None:
        raise errors.SkeletonError("rig", "made to fail", "nothing")

    monkeypatch.setattr(scene, "hang_proxies", fail)
    bpy.ops.object.armature_add()
    bpy.ops.object.mode_set(mode="POSE")
    mine = bpy.context.object
    refuse(bpy.ops.counterpoise.import_skeleton, "made to fail", folder=str(folder), table_path=str(table), unit="mm")
    assert (bpy.context.object, bpy.context.mode) == (mine, "POSE")


@pytest.mark.parametrize("scale", [(2, 2, 2), (1, 1, 1.2), (1, -1, 1), (-1, -1, -1)])
def test_a_scaled_rig_is_refused(animal_scene, part, scale: tuple[float, float, float]) -> None:
    animal_scene.rig.scale = scale
    bpy.context.view_layer.update()
    refuse(bpy.ops.counterpoise.save_pose, "scaled, mirrored or sheared", name="scaled")
    figures = part("bridge.figures")
    figures.refresh_figures(bpy.context)
    assert figures.live_figures() is None
    assert "scaled" in figures.current_problem()


def test_a_changed_unit_scale_is_refused(animal_scene) -> None:
    bpy.context.scene.unit_settings.scale_length = 0.5
    refuse(bpy.ops.counterpoise.save_pose, "unit scale", name="other")


def test_a_bone_out_of_its_joint_is_named(animal_scene) -> None:
    animal_scene.bone_of("V3").location = (0.0, 0.02, 0.0)
    bpy.context.view_layer.update()
    refuse(bpy.ops.counterpoise.save_pose, "V3.* out of its joint", name="apart")


def test_a_scaled_bone_is_named(animal_scene) -> None:
    animal_scene.bone_of("V3").scale = (1.0, 1.1, 1.0)
    bpy.context.view_layer.update()
    refuse(bpy.ops.counterpoise.save_pose, "scaled or sheared", name="scaled")


def test_a_bone_that_was_removed_is_named(animal_scene) -> None:
    animal_scene.remove_bone("V9")
    refuse(bpy.ops.counterpoise.save_pose, "no bone for V9", name="short")


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"child": "V99", "reason": "x"}, "V99"),
        ({"child": "V5", "reason": "x"}, "root has no joint"),
        ({"child": "V3", "reason": ""}, "without a reason"),
        ({"child": "V3", "reason": "x", "flexion": (0.1, 0.2)}, "neutral angle"),
        ({"child": "V3", "reason": "x", "flexion_axis": (0, 0, 0)}, "no direction"),
        ({"child": "V3", "reason": "x", "flexion_axis": (1, 0, 0), "long_axis": (2, 0, 0)}, "parallel"),
        ({"child": "V3", "reason": "x", "senses": (1, 0, 1)}, "senses"),
    ],
)
def test_a_joint_that_cannot_be(animal_scene, given: dict[str, object], message: str) -> None:
    text = animal_scene.settings.document.as_string()
    refuse(bpy.ops.counterpoise.set_joint, message, **given)
    assert animal_scene.settings.document.as_string() == text


def test_hand_over_over_a_folder_of_other_things(animal_scene, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", "utf-8")
    refuse(bpy.ops.counterpoise.hand_over, str(tmp_path.name), folder=str(tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_operators_without_a_skeleton_do_not_run() -> None:
    for name in ("save_pose", "restore_pose", "reset_pose", "stand", "set_joint", "hand_over", "save_document"):
        assert not getattr(bpy.ops.counterpoise, name).poll()


def test_limits_that_the_rig_would_read_as_other_angles(animal_scene) -> None:
    """In Blender too: what is refused by hand is an attitude that Blender says in another set of angles."""
    wide = [radians(angle) for angle in (130, 115, 30)]
    read = Euler(wide, "YZX").to_matrix().to_euler("YZX")
    assert sum(map(abs, read)) < sum(wide) - radians(5)
    given = {"flexion": (0, radians(130)), "lateral": (0, radians(30)), "axial": (0, radians(115)), "reason": "wide"}
    refuse(bpy.ops.counterpoise.set_joint, "275° together", child="V4", **given)
    refuse(bpy.ops.counterpoise.set_joint, "below 90°", child="V4", **given | {"lateral": (0, radians(90))})
    narrow = given | {"axial": (0, radians(100))}
    assert bpy.ops.counterpoise.set_joint(child="V4", **narrow) == {"FINISHED"}
    animal_scene.write_pose({"V4": [angle[1] for angle in (narrow["flexion"], narrow["lateral"], narrow["axial"])]})
    found = animal_scene.read_pose().angles_rad["V4"]
    assert found == pytest.approx([radians(130), radians(30), radians(100)], abs=1e-4)
