"""Mesh files that have moved or changed: told, found again, and refused by name where they are others."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import bpy
import pytest
from animal import make_box, write_stl
from driving import Drive
from scenes import Scene, scene_contents


@pytest.fixture
def opened(animal_scene: Scene, animal_files, part, tmp_path: Path) -> tuple[Scene, Path]:
    """The animal as a document with its own copy of the scans; both lie in one folder."""
    scans, document = tmp_path / "scans", tmp_path / "skeleton.json"
    shutil.copytree(animal_files[0], scans)
    bpy.ops.counterpoise.find_meshes(directory=str(scans))
    bpy.ops.counterpoise.save_document(filepath=str(document))
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    return Scene(part), document


def wrong(part) -> tuple[str, ...]:
    return part("bridge.mesh_files").wrong_files(bpy.context.scene)


def proxies() -> set[str]:
    return {o["counterpoise_element"] for o in bpy.context.scene.objects if "counterpoise_element" in o}


def test_a_document_with_all_its_files(opened, part) -> None:
    scene, document = opened
    bpy.ops.counterpoise.open_document(filepath=str(document))
    assert wrong(part) == ()
    assert bpy.ops.counterpoise.check_meshes() == {"FINISHED"}
    assert wrong(part) == ()
    assert len(proxies()) == len(scene.document.skeleton.elements)


def test_files_that_are_missing_are_told_and_found_again(opened, part, tmp_path: Path) -> None:
    """The whole folder has moved: the skeleton opens with nothing to see, and has it all once the folder is found."""
    scene, document = opened
    (tmp_path / "scans").rename(tmp_path / "moved")
    assert bpy.ops.counterpoise.open_document(filepath=str(document)) == {"FINISHED"}
    assert len(wrong(part)) == 13
    assert "V1.stl: missing" in wrong(part)
    assert proxies() == set()
    bone = scene.bone_of("V2")
    bone.rotation_euler = (0.1, 0, 0)
    before = scene.read_pose()
    assert bpy.ops.counterpoise.find_meshes(directory=str(tmp_path / "moved")) == {"FINISHED"}
    assert wrong(part) == ()
    assert len(proxies()) == 13
    after = scene.read_pose()
    assert after.angles_rad["V2"] == pytest.approx(before.angles_rad["V2"], abs=1e-6)
    assert scene.place_error(after)[0] < 1e-5 * scene.size_m()
    meshes, kept = part("core_calcs.document.meshes"), part("bridge.kept_document")
    checks = meshes.check_meshes(scene.document, kept.text_path(scene.settings.document))
    assert {check.state for check in checks} == {"as recorded"}
    assert scene.settings.mesh_folder == str(tmp_path / "moved")
    assert bpy.ops.counterpoise.hand_over(folder=str(tmp_path / "out")) == {"FINISHED"}


def test_only_what_was_missing_is_made_again(opened, part, tmp_path: Path) -> None:
    _, document = opened
    (tmp_path / "scans" / "V3.stl").rename(tmp_path / "V3.stl")
    bpy.ops.counterpoise.open_document(filepath=str(document))
    assert wrong(part) == ("V3.stl: missing",)
    assert len(proxies()) == 12
    there = {o.name for o in bpy.data.objects}
    (tmp_path / "V3.stl").rename(tmp_path / "scans" / "V3.stl")
    bpy.ops.counterpoise.find_meshes(directory=str(tmp_path / "scans"))
    assert {o.name for o in bpy.data.objects} - there == {"V3"}


@pytest.mark.parametrize("fault", ["changed", "missing", "nothing"])
def test_a_folder_with_other_files_is_refused_by_name(opened, part, tmp_path: Path, fault: str) -> None:
    scene, document = opened
    bpy.ops.counterpoise.open_document(filepath=str(document))
    other = tmp_path / "other"
    shutil.copytree(tmp_path / "scans", other)
    if fault == "changed":
        write_stl(other / "V4.stl", make_box((9, 9, 9), (0, 0, 0)))
    elif fault == "missing":
        (other / "V4.stl").unlink()
    else:
        shutil.rmtree(other)
    before, text = scene_contents(), scene.settings.document.as_string()
    with pytest.raises(RuntimeError, match=r"V4\.stl"):
        bpy.ops.counterpoise.find_meshes(directory=str(other))
    assert scene_contents() == before
    assert scene.settings.document.as_string() == text


def test_a_changed_file_is_named(opened, part, tmp_path: Path) -> None:
    _, document = opened
    bpy.ops.counterpoise.open_document(filepath=str(document))
    write_stl(tmp_path / "scans" / "V4.stl", make_box((9, 9, 9), (0, 0, 0)))
    assert bpy.ops.counterpoise.check_meshes() == {"FINISHED"}
    assert wrong(part) == ("V4.stl: changed",)


def test_files_are_looked_for_when_a_blend_is_loaded(opened, part, tmp_path: Path) -> None:
    _, document = opened
    bpy.ops.counterpoise.open_document(filepath=str(document))
    blend = tmp_path / "posed.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(blend))
    (tmp_path / "scans" / "V5.stl").unlink()
    assert wrong(part) == ()  # not looked at while drawing
    bpy.ops.wm.open_mainfile(filepath=str(blend))
    assert wrong(part) == ("V5.stl: missing",)


def test_esc_while_files_are_compared(opened, part, tmp_path: Path) -> None:
    scene, document = opened
    bpy.ops.counterpoise.open_document(filepath=str(document))
    shutil.copytree(tmp_path / "scans", tmp_path / "copy")
    text = scene.settings.document.as_string()
    drive = Drive(part, part("operators.meshes").COUNTERPOISE_OT_find_meshes, directory=str(tmp_path / "copy"))
    drive.begin()
    drive.send("ESC", "PRESS")
    assert drive.wait() == {"CANCELLED"}
    assert scene.settings.document.as_string() == text
    drive = Drive(part, part("operators.meshes").COUNTERPOISE_OT_find_meshes, directory=str(tmp_path / "copy"))
    drive.begin()
    assert drive.wait() == {"FINISHED"}
    assert json.loads(scene.settings.document.as_string())["mesh_folder"].endswith("copy")


def test_undo_looks_again(opened, part, tmp_path: Path) -> None:
    scene, document = opened
    bpy.ops.counterpoise.open_document(filepath=str(document))
    text, files = scene.settings.document, part("bridge.mesh_files")
    before = text.as_string()
    (tmp_path / "scans").rename(tmp_path / "moved")
    bpy.ops.counterpoise.find_meshes(directory=str(tmp_path / "moved"))
    assert wrong(part) == ()
    text.from_string(before)  # what undo does to the text block
    assert files.look_after_undo in bpy.app.handlers.undo_post
    assert files.look_after_undo in bpy.app.handlers.redo_post
    files.look_after_undo()
    assert len(wrong(part)) == 13
