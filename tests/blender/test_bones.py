"""A missing bone made by the operator: element, joint, proxy, file and record; undone; refused where it cannot be."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
from scenes import Scene, scene_contents
from test_corrections import shown_points

op = bpy.ops.counterpoise
LEG, PARTNER, WHY = "leg V8 right", "leg V8 left", "lost in the field"


@pytest.fixture
def lame(animal_files: tuple[Path, Path], tmp_path: Path, part) -> Scene:
    """The animal without its right hind leg."""
    folder, table = animal_files
    rows = table.read_text(encoding="utf-8").splitlines()
    own = tmp_path / "elements.csv"
    own.write_text("\n".join(row for row in rows if LEG not in row) + "\n", encoding="utf-8")
    scans = tmp_path / "scans"
    scans.mkdir()
    for path in folder.glob("*.stl"):
        (scans / path.name).write_bytes(path.read_bytes())
    assert op.import_skeleton(folder=str(scans), table_path=str(own), unit="mm", name="lame") == {"FINISHED"}
    scene = Scene(part)
    scene.settings.recorded_by = "A. B."
    scene.scans = scans
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "lame.blend"))
    return scene


def add(**given) -> None:
    assert op.add_bone("EXEC_DEFAULT", True, **given) == {"FINISHED"}


def check_places(scene: Scene) -> None:
    places, directions = scene.place_error(scene.read_pose())
    assert places < 1e-5
    assert directions < 1e-5


def test_a_leg_is_mirrored(lame: Scene) -> None:
    add(name=LEG, way="mirrored", source=PARTNER, reason=WHY)
    document = lame.document
    element = document.skeleton.elements[document.skeleton.index(LEG)]
    assert (element.origin, element.made_from) == ("mirrored", PARTNER)
    assert (lame.scans / element.source.file).is_file()
    record = document.records[-1]
    assert (record.kind, record.elements[0], record.why, record.by) == ("addition", LEG, WHY, "A. B.")
    check_places(lame)
    mirrored = shown_points(lame, PARTNER) * (1, -1, 1)
    own = shown_points(lame, LEG)
    np.testing.assert_allclose(own.min(axis=0), mirrored.min(axis=0), atol=2e-3)
    np.testing.assert_allclose(own.max(axis=0), mirrored.max(axis=0), atol=2e-3)
    assert [o["counterpoise_element"] for o in bpy.context.selected_objects] == [LEG]
    assert LEG in [row.name for row in lame.settings.castings]


def test_what_is_missing_is_listed_until_it_is_made(lame: Scene) -> None:
    figures, missing = lame.part("bridge.figures"), lame.part("bridge.missing")
    figures.refresh_figures(bpy.context)
    (row,) = [own for own in missing.drawn_missing(bpy.context.scene) if own.name == LEG]
    assert (row.way, row.source) == ("mirrored", PARTNER)
    add(name=row.name, way=row.way, source=row.source, position=row.position, reason=WHY)
    figures.refresh_figures(bpy.context)
    assert LEG not in [own.name for own in missing.drawn_missing(bpy.context.scene)]


def test_undo_redo_and_a_file(lame: Scene, tmp_path: Path) -> None:
    bpy.ops.ed.undo_push(message="Begin")
    text, contents = lame.settings.document.as_string(), scene_contents()
    add(name=LEG, way="mirrored", source=PARTNER, reason=WHY)
    after = lame.settings.document.as_string()
    bpy.ops.ed.undo()
    assert (lame.settings.document.as_string(), scene_contents()) == (text, contents)
    bpy.ops.ed.redo()
    assert lame.settings.document.as_string() == after
    check_places(lame)
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "kept.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "kept.blend"))
    assert lame.settings.document.as_string() == after
    check_places(lame)
    assert op.check_meshes() == {"FINISHED"}


def test_a_mirrored_scan_is_put_right_in_its_place(lame: Scene) -> None:
    before = shown_points(lame, PARTNER)
    contents = scene_contents()
    add(name=PARTNER, way="mirrored", source=PARTNER, reason="its scan is a mirror image")
    check_places(lame)
    after = shown_points(lame, PARTNER)
    np.testing.assert_allclose(np.ptp(after, axis=0), np.ptp(before, axis=0), atol=2e-3)
    assert scene_contents()["objects"] == contents["objects"]
    element = lame.document.skeleton.elements[lame.document.skeleton.index(PARTNER)]
    assert element.source.file.startswith("made/")


def test_what_cannot_be_made_changes_nothing(lame: Scene) -> None:
    text, contents = lame.settings.document.as_string(), scene_contents()
    files = sorted(path.name for path in lame.scans.rglob("*"))
    for given, told in (
        ({"name": LEG, "way": "mirrored", "source": PARTNER, "reason": ""}, "reason"),
        ({"name": LEG, "way": "mirrored", "source": "", "reason": WHY}, "made of"),
        ({"name": LEG, "way": "mirrored", "source": "nobody", "reason": WHY}, "nobody"),
        ({"name": "V1", "way": "scaled", "source": "V2", "reason": WHY}, "V1"),
    ):
        with pytest.raises(RuntimeError, match=told):
            op.add_bone("EXEC_DEFAULT", True, **given)
        assert (lame.settings.document.as_string(), scene_contents()) == (text, contents)
        assert sorted(path.name for path in lame.scans.rglob("*")) == files
