"""What is to be looked at, in words: rows are made up, meshes are boxes written to files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import trimesh

from core_calcs.skeleton.table import TableRow
from core_calcs.studies.problems import (
    Problem,
    describe_mesh,
    describe_positions,
    list_count_problems,
    list_mesh_problems,
    list_table_problems,
    order_problems,
)
from core_calcs.studies.survey import survey_folder


def make_row(
    element: str, series: str = "limb", position: int | None = None, side: str = "middle", attachment: str = "fixed"
) -> TableRow:
    file = f"{element}.stl"
    return TableRow(file, None, "mm", element, series, position, side, "", attachment, "", "not known")  # type: ignore[arg-type]


def test_missing_positions_lead_to_their_neighbours() -> None:
    rows = [make_row(f"C{n}", "cervical", n) for n in (3, 4, 7)]
    assert list_count_problems(rows) == (
        Problem("position", "cervical", "no element at position 1–2", "C3"),
        Problem("position", "cervical", "no element at position 5–6", "C4"),
    )


def test_what_is_left_out_holds_no_position() -> None:
    rows = [make_row("C1", "cervical", 1, attachment="left out"), make_row("C2", "cervical", 2)]
    assert [problem.element for problem in list_count_problems(rows)] == ["C2"]


def test_an_element_without_its_partner_is_named() -> None:
    rows = [make_row("Femur.L", side="left"), make_row("Tibia.L", side="left"), make_row("Tibia.R", side="right")]
    assert list_count_problems(rows) == (
        Problem("partner", "Femur.L", "without a partner on the other side", "Femur.L"),
    )


def test_positions_as_ranges() -> None:
    assert describe_positions([9, 1, 2, 3, 2]) == "1–3, 9"
    assert describe_positions([]) == ""


def test_meshes_in_words(tmp_path: Path) -> None:
    box = trimesh.creation.box((10, 20, 30))
    box.export(tmp_path / "Sound.stl")
    trimesh.Trimesh(box.vertices - 100, box.faces[:-1], process=False).export(tmp_path / "Holed.stl")
    trimesh.Trimesh(box.vertices + 100, box.faces[:, ::-1], process=False).export(tmp_path / "Turned.stl")
    trimesh.Trimesh(box.vertices + 300, box.faces, process=False).export(tmp_path / "One.stl")
    (tmp_path / "Two.stl").write_bytes((tmp_path / "One.stl").read_bytes())
    (tmp_path / "Broken.stl").write_bytes(b"no mesh")
    survey = survey_folder(tmp_path)
    names = ("Sound", "Holed", "Turned", "One", "Two", "Broken", "Gone")
    rows = [make_row(name) for name in names]
    meshes = dict(zip(names, [describe_mesh(survey, row) for row in rows], strict=True))
    assert meshes["Sound"] == "closed"
    assert meshes["Holed"].startswith("open, volume known to ±")
    assert meshes["Turned"] == "inside out"
    assert "duplicate of" in meshes["One"] + meshes["Two"]
    assert meshes["Broken"].startswith("unreadable. ")
    assert meshes["Gone"].startswith("missing")
    problems = list_table_problems(rows, list(meshes.values()))
    assert {problem.element for problem in problems if problem.kind == "mesh"} == {
        name for name, mesh in meshes.items() if mesh != "closed"
    }
    told = {problem.where: problem.what for problem in list_mesh_problems(survey)}
    assert told == {
        f"{name}.stl": mesh for name, mesh in meshes.items() if name not in ("Sound", "Gone") and mesh != "closed"
    }


def test_a_body_that_the_file_does_not_hold(tmp_path: Path) -> None:
    boxes = trimesh.util.concatenate([trimesh.creation.box((9, 9, 9)), trimesh.creation.box((5, 5, 5))])
    boxes.vertices[8:] += np.array((40.0, 0, 0))
    boxes.export(tmp_path / "Pair.stl")
    survey = survey_folder(tmp_path)
    row = TableRow("Pair.stl", 3, "mm", "Third", "limb", None, "middle", "", "fixed", "", "not known")
    assert describe_mesh(survey, row) == "missing: the file has only 2 bodies"
    assert describe_mesh(survey, make_row("Pair")) == "several bodies"


def test_what_is_not_known_or_left_out_is_no_problem() -> None:
    rows = [make_row("A"), make_row("B", attachment="left out")]
    assert list_table_problems(rows, ["", "open"]) == ()


def test_a_file_that_was_left_out_unread_is_told_until_the_user_gives_a_reason() -> None:
    own = "B.stl: not an STL file: it has 5 bytes. Export it again."
    mesh = "unreadable. not an STL file: it has 5 bytes. Export it again."
    proposed, settled = (replace(make_row("B", attachment="left out"), reason=text) for text in (own, "too worn"))
    assert [(one.where, one.what) for one in list_table_problems([proposed], [mesh])] == [("B", mesh)]
    assert list_table_problems([settled], [mesh]) == ()


def test_the_gravest_problem_comes_first() -> None:
    """One file that cannot be read is not lost among fifty that hold several bodies."""
    told = [Problem("mesh", f"Ca{i}", "several bodies", f"Ca{i}") for i in range(1, 4)] + [
        Problem("mesh", "Ca4", "open, volume known to ± 2 %", "Ca4"),
        Problem("position", "caudal", "no element at position 7", "Ca6"),
        Problem("mesh", "Ca7", "empty. the file is empty (0 bytes)", "Ca7"),
        Problem("mesh", "Ca9", "several bodies; duplicate of Ca8.stl", "Ca9"),
        Problem("table", "Ca5", "it hangs on itself", "Ca5"),
    ]
    assert [one.where for one in order_problems(told)] == ["Ca5", "Ca7", "Ca9", "caudal", "Ca4", "Ca1", "Ca2", "Ca3"]
