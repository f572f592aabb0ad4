"""The survey on the command line."""

from __future__ import annotations

import dataclasses
import json
import shutil

import pytest
import trimesh

from core_calcs.skeleton.table import read_table, write_table
from tests.unit.cli.driving import BOXES, VOLUME_M3, run


def test_survey_counts_by_series_and_proposes_a_table(finished):
    told = run("survey", finished.meshes)
    assert told.exit_code == 0
    assert "10 files, 10 bodies, unit mm" in told.stdout
    assert "every mesh is closed and sound" in told.stdout
    assert [line.split() for line in told.stdout.splitlines() if line.startswith("dorsal")] == [
        ["dorsal", "2", "0", "0", "2", "1–2"]
    ]
    assert "0 % surveying" in told.stderr
    rows = read_table(finished.table)
    assert len(rows) == 10
    assert {row.element for row in rows if row.attachment == "root"} == {"Sacrum"}


def test_a_table_that_is_there_is_checked_and_left_alone(place):
    rows = read_table(place.table)
    edited = tuple(dataclasses.replace(row, origin="sculpted") for row in rows)
    write_table(place.table, edited)
    told = run("survey", place.meshes, "--table", place.table)
    assert told.exit_code == 0
    assert "10 rows, fits the files" in told.stdout
    assert read_table(place.table) == edited
    assert run("survey", place.meshes, "--table", place.table, "--propose-again").exit_code == 0
    assert read_table(place.table) == rows


def test_a_table_is_surveyed_in_its_own_units(place):
    """The same numbers taken for centimetres: a thousand times the volume."""
    write_table(place.table, [dataclasses.replace(row, unit="cm") for row in read_table(place.table)])
    told = json.loads(run("survey", place.meshes, "--table", place.table, "--json").stdout)
    total = sum(file["whole"]["volume_m3"] for file in told["files"])
    assert total == pytest.approx(1000 * VOLUME_M3, rel=1e-6)


def test_survey_as_json_is_json_alone(finished):
    told = run("survey", finished.meshes, "--json")
    tree = json.loads(told.stdout)
    assert tree["table"]["state"] == "none"
    assert {file["file"] for file in tree["files"]} == {f"{name}.stl" for name in BOXES}
    assert sum(file["whole"]["volume_m3"] for file in tree["files"]) == pytest.approx(VOLUME_M3, rel=1e-6)


def test_survey_tells_what_the_table_lacks(place):
    (place.meshes / "femur_R.stl").unlink()
    (place.meshes / "L1.stl").rename(place.meshes / "L3.stl")
    place.table.unlink()
    told = run("survey", place.meshes, "--table", place.table)
    assert "Femur.L: without a partner on the other side" in told.stdout
    assert "dorsal: no element at position 2" in told.stdout


def test_named_states_of_meshes_are_told(place):
    box = trimesh.creation.box(extents=(100, 100, 100))
    trimesh.Trimesh(box.vertices, box.faces[2:]).export(place.meshes / "open_box.stl")
    trimesh.Trimesh(box.vertices + 500, box.faces[:, ::-1]).export(place.meshes / "turned_box.stl")
    shutil.copy(place.meshes / "L1.stl", place.meshes / "L1_again.stl")
    (place.meshes / "nothing.stl").write_bytes(b"")
    (place.meshes / "cut.stl").write_bytes((place.meshes / "L1.stl").read_bytes()[:-60])
    (place.meshes / "letter.obj").write_text("Dear Sir or Madam", encoding="utf-8")
    nan = bytearray((place.meshes / "L1.stl").read_bytes())
    nan[96:100] = b"\x00\x00\xc0\x7f"  # the first corner's x of a binary STL: not a number
    (place.meshes / "nan.stl").write_bytes(bytes(nan))
    told = run("survey", place.meshes)
    assert told.exit_code == 0
    remarks = {
        line.split(":")[0].strip(): line for line in told.stdout.splitlines() if ".stl:" in line or ".obj:" in line
    }
    assert "open, volume known to" in remarks["open_box.stl"]
    assert "inside out" in remarks["turned_box.stl"]
    assert "duplicate of L1.stl" in remarks["L1_again.stl"]
    assert "empty" in remarks["nothing.stl"]
    for name in ("cut.stl", "letter.obj", "nan.stl"):
        assert "unreadable" in remarks[name]
    assert "4 files cannot be used" in told.stdout
