"""Long steps: prepared in Blender, calculated beside it, finished in it; Esc leaves everything as it was."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import bpy
import numpy as np
import pytest
from driving import Drive
from scenes import Scene, scene_contents


@pytest.fixture(autouse=True)
def nothing_left_running(part) -> Iterator[None]:
    yield
    work = part("bridge.long_work")
    running = work.running_work()
    work.stop_work()
    assert running is None


def list_folder(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def stop_at(part, monkeypatch: pytest.MonkeyPatch, sign: int) -> list[str]:
    """Press Esc at the calculation's so-manieth sign of progress; returns what it was doing at each."""
    work, seen = part("bridge.long_work").LongWork, []
    note = work._note

    def count(self: Any, doing: str, share: float) -> None:
        assert threading.current_thread() is not threading.main_thread()
        seen.append(doing)
        if len(seen) == sign:
            self.stop()
        note(self, doing, share)

    monkeypatch.setattr(work, "_note", count)
    return seen


def drive_import(part, animal_files, **given: object) -> Drive:
    folder, table = animal_files
    operator = part("operators.skeletons").COUNTERPOISE_OT_import_skeleton
    defaults = {"folder": str(folder), "table_path": str(table), "unit": "mm", "name": "animal", "loose": False}
    return Drive(part, operator, **defaults | given)


def test_a_skeleton_is_built_while_the_window_lives(animal_files, part) -> None:
    drive = drive_import(part, animal_files)
    before = scene_contents()
    assert drive.begin() == {"RUNNING_MODAL"}
    assert drive.context.window_manager.handlers == [drive.step]
    assert scene_contents() == before
    assert drive.send("MOUSEMOVE") == {"PASS_THROUGH"}
    assert drive.wait() == {"FINISHED"}
    assert drive.context.window_manager.timers == []
    assert drive.reports[-1][0] == {"INFO"}
    scene = Scene(part)
    assert len(scene.document.skeleton.elements) == 13
    assert scene.place_error(scene.read_pose())[0] < 1e-5 * scene.size_m()


def test_a_window_and_a_script_build_the_same(animal_files, part) -> None:
    drive = drive_import(part, animal_files)
    drive.begin()
    drive.wait()
    by_window = bpy.context.scene.counterpoise.document.as_string()
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    folder, table = animal_files
    bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm", name="animal")
    assert bpy.context.scene.counterpoise.document.as_string() == by_window


@pytest.mark.parametrize("sign", [1, 15, 29, 40])
def test_esc_leaves_the_scene_as_it_was(
    animal_files, animal_scene, part, monkeypatch: pytest.MonkeyPatch, sign: int
) -> None:
    before, settings = scene_contents(), bpy.context.scene.counterpoise
    kept, files = (settings.document, settings.rig), list_folder(animal_files[0].parent)
    seen = stop_at(part, monkeypatch, sign)
    drive = drive_import(part, animal_files)
    drive.begin()
    assert drive.wait() == {"CANCELLED"}
    assert len(seen) == sign
    assert "was stopped. Nothing was changed" in drive.reports[-1][1]
    assert scene_contents() == before
    assert (settings.document, settings.rig) == kept
    assert list_folder(animal_files[0].parent) == files
    assert drive.context.window_manager.timers == []


def test_esc_is_the_key(animal_files, part) -> None:
    drive = drive_import(part, animal_files)
    drive.begin()
    assert drive.send("ESC", "RELEASE") == {"PASS_THROUGH"}
    assert not drive.step.running.stopped
    assert drive.send("ESC", "PRESS") == {"RUNNING_MODAL"}
    assert "stopping" in drive.texts[-1]
    assert drive.wait() == {"CANCELLED"}
    assert not bpy.data.armatures


def test_esc_after_the_last_sign_still_counts(animal_files, part) -> None:
    drive = drive_import(part, animal_files)
    drive.begin()
    drive.step.running.wait(60)
    drive.send("ESC", "PRESS")
    assert drive.wait() == {"CANCELLED"}
    assert not bpy.data.armatures


def test_a_document_is_opened_beside_blender_and_esc_opens_nothing(
    animal_scene, part, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "skeleton.json"
    bpy.ops.counterpoise.save_document(filepath=str(path))
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    operator = part("operators.documents").COUNTERPOISE_OT_open_document
    with monkeypatch.context() as patch:
        stop_at(part, patch, 5)
        before = scene_contents()
        drive = Drive(part, operator, filepath=str(path))
        drive.begin()
        assert drive.wait() == {"CANCELLED"}
        assert scene_contents() == before
    drive = Drive(part, operator, filepath=str(path))
    drive.begin()
    assert drive.wait() == {"FINISHED"}
    assert bpy.context.scene.counterpoise.rig is not None


@pytest.mark.parametrize("sign", [2, 20, 28])
def test_esc_leaves_no_hand_over_behind(
    animal_scene, part, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sign: int
) -> None:
    seen = stop_at(part, monkeypatch, sign)
    drive = Drive(
        part, part("operators.handing_over").COUNTERPOISE_OT_hand_over, folder=str(tmp_path / "out"), poses=""
    )
    drive.begin()
    assert drive.wait() == {"CANCELLED"}
    assert len(seen) == sign
    assert list(tmp_path.iterdir()) == []


def test_esc_after_a_hand_over_is_written_says_that_it_is(animal_scene, part, tmp_path: Path) -> None:
    drive = Drive(
        part, part("operators.handing_over").COUNTERPOISE_OT_hand_over, folder=str(tmp_path / "out"), poses=""
    )
    drive.begin()
    drive.step.running.wait(120)
    drive.send("ESC", "PRESS")
    assert drive.wait() == {"FINISHED"}
    assert (tmp_path / "out" / "manifest.json").is_file()
    assert "written" in drive.reports[-1][1]


def test_esc_writes_no_table(animal_files, part, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stop_at(part, monkeypatch, 6)
    operator = part("operators.surveying").COUNTERPOISE_OT_survey_folder
    table = tmp_path / "elements.csv"
    given = {"folder": str(animal_files[0]), "table_path": str(table)}
    drive = Drive(part, operator, unit="mm", expected="", propose_anew=False, **given)
    drive.begin()
    assert drive.wait() == {"CANCELLED"}
    assert list(tmp_path.iterdir()) == []
    assert not bpy.context.scene.counterpoise.mesh_folder
    assert "Survey" not in bpy.data.texts


def test_what_goes_wrong_beside_blender_is_told(animal_files, part) -> None:
    drive = drive_import(part, animal_files, folder=str(animal_files[0].parent / "nowhere"))
    before = scene_contents()
    drive.begin()
    assert drive.wait() == {"CANCELLED"}
    assert drive.reports[-1][0] == {"ERROR"}
    assert "nowhere" in drive.reports[-1][1]
    assert scene_contents() == before


def test_what_is_not_given_is_told_at_once(animal_files, part) -> None:
    drive = drive_import(part, animal_files, folder="")
    assert drive.begin() == {"CANCELLED"}
    assert "none is given" in drive.reports[-1][1]
    assert drive.context.window_manager.timers == []


def test_the_scene_does_not_change_under_a_tool_in_use(animal_files, part) -> None:
    """Finished only when the user lets go of what is grabbed; an add-on's operator that always runs is no tool."""
    drive = drive_import(part, animal_files)
    tools = [SimpleNamespace(bl_idname="WM_OT_context_toggle"), SimpleNamespace(bl_idname="TRANSFORM_OT_translate")]
    window = SimpleNamespace(modal_operators=tools, screen=SimpleNamespace(areas=[]))
    drive.context.window_manager.windows.append(window)
    drive.begin()
    drive.step.running.wait(60)
    for _ in range(3):
        assert drive.send("TIMER") == {"PASS_THROUGH"}
    assert "waiting for the tool in use" in drive.texts[-1]
    assert not bpy.data.armatures
    tools.pop()
    assert drive.wait() == {"FINISHED"}
    assert bpy.data.armatures


def test_other_steps_wait(animal_files, animal_scene, part) -> None:
    drive = drive_import(part, animal_files)
    assert bpy.ops.counterpoise.save_pose.poll()
    drive.begin()
    for name in ("survey_folder", "import_skeleton", "open_document", "save_pose", "hand_over", "build_rig"):
        assert not getattr(bpy.ops.counterpoise, name).poll()
    with pytest.raises(RuntimeError, match="Build Skeleton and Rig is running"):
        bpy.ops.counterpoise.save_pose(name="meanwhile")
    drive.send("ESC", "PRESS")
    drive.wait()
    assert bpy.ops.counterpoise.save_pose.poll()


def test_loading_another_file_stops_it(animal_files, part) -> None:
    drive = drive_import(part, animal_files)
    drive.begin()
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    assert drive.step.running.is_over()
    assert part("bridge.long_work").running_work() is None
    drive.step.cancel(drive.context)  # as Blender does where it throws the operator away
    assert drive.context.window_manager.timers == []
    assert not bpy.data.armatures


def test_a_rig_is_not_built_from_what_was_changed_meanwhile(animal_scene, part) -> None:
    bpy.data.objects.remove(bpy.data.objects["V7"])
    drive = Drive(part, part("operators.skeletons").COUNTERPOISE_OT_build_rig)
    drive.begin()
    rig, text = animal_scene.rig, animal_scene.settings.document
    text.from_string(text.as_string().replace('"as scanned"', '"as found"'))
    assert drive.wait() == {"CANCELLED"}
    assert "meanwhile" in drive.reports[-1][1]
    assert animal_scene.rig == rig
    assert "V7" not in bpy.data.objects


def test_calculations_hold_nothing_of_blender(animal_files, animal_scene, part, tmp_path: Path) -> None:
    """By what they are made of: functions of the core or of the module that imports no Blender, on plain values."""
    operators, folder = part("operators"), str(animal_files[0])
    table = str(animal_files[1])
    path = tmp_path / "skeleton.json"
    bpy.ops.counterpoise.save_document(filepath=str(path))
    trials = [
        drive_import(part, animal_files),
        Drive(part, operators.documents.COUNTERPOISE_OT_open_document, filepath=str(path)),
        Drive(part, operators.handing_over.COUNTERPOISE_OT_hand_over, folder=str(tmp_path / "out"), poses=""),
        Drive(part, operators.skeletons.COUNTERPOISE_OT_build_rig),
        Drive(
            part,
            operators.surveying.COUNTERPOISE_OT_survey_folder,
            folder=folder,
            unit="mm",
            table_path=table,
            expected="",
            propose_anew=False,
        ),
    ]
    for trial in trials:
        calculate = trial.step.prepare(trial.context)
        assert isinstance(calculate, partial)
        name = calculate.func.__module__.split("counterpoise.", 1)[1]
        assert name == "bridge.calculations" or name.startswith("core_calcs.")
        for value in (*calculate.args, *calculate.keywords.values()):
            assert not isinstance(value, bpy.types.bpy_struct)
            assert (
                isinstance(value, (str, int, bool, Path, list, tuple, type(None)))
                or "core_calcs" in type(value).__module__
            )


def test_mixed_units_are_those_of_the_table(animal_files, part, tmp_path: Path) -> None:
    """A file in metres among files in millimetres, as its row says."""
    import animal

    scans = tmp_path / "scans"
    rows = animal.write_animal(scans)
    animal.write_stl(scans / "V9.stl", 0.001 * animal.make_ellipsoid((26, 23, 18), (-240, 0, 400), 0.9))
    table = tmp_path / "elements.csv"
    table.write_text("\n".join(rows).replace("V9.stl,,mm", "V9.stl,,m") + "\n", "utf-8")
    assert bpy.ops.counterpoise.survey_folder(folder=str(scans), unit="mm", table_path=str(table)) == {"FINISHED"}
    done = bpy.ops.counterpoise.import_skeleton(folder=str(scans), table_path=str(table), unit="mm", name="mixed")
    assert done == {"FINISHED"}
    found = {element.name: element for element in Scene(part).document.skeleton.elements}
    np.testing.assert_allclose(found["V9"].solid.centre_m, (-0.24, 0, 0.4), atol=1e-6)
