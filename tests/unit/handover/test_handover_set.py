"""The whole set: everything that is written is read back by a reader that is not ours."""

from __future__ import annotations

import csv
import errno
import hashlib
import html
import json
import os
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.build.build import Casting, Disc, Material, Steelwork, Weighing
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_to_text, read_document
from core_calcs.handover import meshes
from core_calcs.handover.handover_set import write_handover
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.errors import Cancelled, CounterpoiseError, DocumentError, OutputError, SkeletonError
from core_calcs.spatial.progress import ignore_progress
from core_calcs.studies.assess import assess
from core_calcs.studies.castings import apply_build, cast_all, cast_series, note_weighings
from core_calcs.studies.places_by_hand import move_and_turn, place_in_document, straddle_in_document

Kept = tuple[SkeletonDocument, Path]
TURNED = "looking_up_left"


@pytest.fixture(scope="module")
def written(box_document: Kept, tmp_path_factory: pytest.TempPathFactory) -> Path:
    document, path = box_document
    return write_handover(document, path, tmp_path_factory.mktemp("set") / "hand-over", None, ignore_progress)


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_folders_are_those_of_the_poses(written: Path) -> None:
    top = {
        "README.txt",
        "manifest.json",
        "skeleton.json",
        "poses.html",
        "poses.csv",
        "poses.json",
        "ranges",
        "neutral",
        TURNED,
    }
    assert set(os.listdir(written)) == top
    assert os.listdir(written.parent) == ["hand-over"]


def test_manifest_lists_every_file_as_it_is(written: Path) -> None:
    manifest = json.loads((written / "manifest.json").read_text(encoding="utf-8"))
    listed = {entry["path"]: entry for entry in manifest["files"]}
    there = {p.relative_to(written).as_posix() for p in written.rglob("*") if p.is_file()} - {"manifest.json"}
    assert set(listed) == there
    for name, entry in listed.items():
        data = (written / name).read_bytes()
        assert (entry["bytes"], entry["sha256"]) == (len(data), hashlib.sha256(data).hexdigest())
    assert manifest["poses"] == [
        {"pose": "neutral", "folder": "neutral"},
        {"pose": "looking up / left", "folder": TURNED},
    ]
    assert manifest["meshes"]["length_unit"] == "mm"
    assert manifest["made_utc"].endswith("Z")


@pytest.mark.parametrize(("pose", "folder"), [(0, "neutral"), (1, TURNED)])
def test_posed_meshes_are_the_sources_where_the_pose_puts_them(
    box_document: Kept, written: Path, pose: int, folder: str
) -> None:
    document, path = box_document
    placed = place_elements(document.skeleton, document.poses[pose])
    rows = read_csv(written / folder / "elements.csv")
    assert [row["element"] for row in rows] == [element.name for element in document.skeleton.elements]
    for row, element, X_WE in zip(rows, document.skeleton.elements, placed, strict=True):
        source = trimesh.load(path.parent / "scans" / element.source.file)
        source.apply_scale(0.001)
        source.apply_transform(X_WE)
        mesh = trimesh.load(written / folder / row["file"])
        assert len(mesh.faces) == len(source.faces) == int(row["triangles"])
        np.testing.assert_allclose(mesh.bounds / 1000, source.bounds, atol=1e-6)
        np.testing.assert_allclose(mesh.center_mass / 1000, source.center_mass, atol=1e-6)
        assert mesh.volume / 1e9 == pytest.approx(source.volume, rel=1e-5)
        assert mesh.is_watertight
        centre = [float(row[f"centre_{axis}_m"]) for axis in "xyz"]
        np.testing.assert_allclose(centre, source.center_mass, atol=1e-7)


def test_an_element_placed_by_hand_is_handed_over_where_it_was_put(own_box_document: Kept, tmp_path: Path) -> None:
    """Mesh, GLB and table in a turned pose; the report tells it."""
    document, path = own_box_document
    X_WE = move_and_turn(document.skeleton, "jaw", (0.0, 0.02, -0.05), (0, 1, 0), 0.3)
    document = place_in_document(document, "jaw", X_WE, "it hung <open>")
    document = straddle_in_document(document, "fore leg L", "dorsal 2")
    folder = write_handover(document, path, tmp_path / "hand-over", [document.poses[1].name], ignore_progress) / TURNED
    skull, jaw = (document.skeleton.index(name) for name in ("skull", "jaw"))
    motions = place_elements(document.skeleton, document.poses[1])
    motion = motions[skull] @ np.linalg.inv(document.skeleton.elements[skull].X_WE)
    source = trimesh.load(path.parent / "scans" / document.skeleton.elements[jaw].source.file)
    source.apply_scale(0.001)
    source.apply_transform(motion @ X_WE)
    row = next(row for row in read_csv(folder / "elements.csv") if row["element"] == "jaw")
    mesh = trimesh.load(folder / row["file"])
    np.testing.assert_allclose(mesh.bounds / 1000, source.bounds, atol=1e-6)
    np.testing.assert_allclose([float(row[f"centre_{axis}_m"]) for axis in "xyz"], source.center_mass, atol=1e-7)
    scene = trimesh.load_scene(folder / "whole.glb")
    X, geometry = scene.graph["jaw"]
    back = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]])
    points = trimesh.transform_points(scene.geometry[geometry].vertices, X) @ back.T
    np.testing.assert_allclose([points.min(axis=0), points.max(axis=0)], source.bounds, atol=2e-6)
    report = (folder / "report.html").read_text(encoding="utf-8")
    assert "jaw was placed by hand, moved by 53.9 mm" in report
    assert "fore leg L stands halfway between two others; its whole load is given to the first" in report


def test_stl_is_binary_and_says_millimetres(written: Path) -> None:
    data = (written / TURNED / "meshes" / "skull_mm.stl").read_bytes()
    assert data[:2] == b"mm"
    assert len(data) == 84 + 50 * int.from_bytes(data[80:84], "little")


def test_glb_has_one_node_an_element_where_its_mesh_is(box_document: Kept, written: Path) -> None:
    document, _ = box_document
    scene = trimesh.load_scene(written / TURNED / "whole.glb")
    names = {element.name for element in document.skeleton.elements}
    assert set(scene.graph.nodes_geometry) == names
    back = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]])  # glTF's y up to z up
    for row in read_csv(written / TURNED / "elements.csv"):
        X, geometry = scene.graph[row["element"]]
        points = trimesh.transform_points(scene.geometry[geometry].vertices, X) @ back.T
        mesh = trimesh.load(written / TURNED / row["file"])
        np.testing.assert_allclose([points.min(axis=0), points.max(axis=0)], mesh.bounds / 1000, atol=2e-6)
        assert len(scene.geometry[geometry].faces) == len(mesh.faces)


def test_tables_and_their_twins_say_the_same(written: Path) -> None:
    for path in written.rglob("*.csv"):
        rows = read_csv(path)
        twin = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
        assert len(rows) == len(twin)
        for row, other in zip(rows, twin, strict=True):
            assert list(row) == list(other)
            for head, cell in row.items():
                value = other[head]
                if value is None:
                    assert cell == "not known", (path.name, head)
                elif isinstance(value, float):
                    assert float(cell) == pytest.approx(value, rel=1e-9, abs=1e-300)
                else:
                    assert cell == str(value)


def test_figures_are_those_of_the_assessment(box_document: Kept, written: Path) -> None:
    document, _ = box_document
    found = assess(document.skeleton, document.poses[1], document.build, document.site)
    folder = written / TURNED
    kept = json.loads((folder / "assessment.json").read_text(encoding="utf-8"))
    assert kept["mass_kg"] == found.mass_kg
    assert kept["base_moment_Nm"] == found.base_moment_Nm.tolist()
    assert kept["tip_angle_rad"] == found.tip_angle_rad
    elements = read_csv(folder / "elements.csv")
    assert sum(float(row["mass_kg"]) for row in elements) == pytest.approx(found.mass_kg, rel=1e-9)
    assert {row["casting"] for row in elements} == {"solid"}
    assert {row["mass_from"] for row in elements} == {"calculation"}
    joints = {row["joint"]: row for row in read_csv(folder / "joints.csv")}
    load = next(load for load in found.joints if load.child == "cervical 3")
    row = joints["cervical 3"]
    np.testing.assert_allclose([float(row[f"moment_{a}_Nm"]) for a in "xyz"], load.moment_Nm, rtol=1e-8, atol=1e-9)
    assert float(row["torsion_Nm"]) == pytest.approx(load.torsion_Nm)
    assert float(row["flexion_deg"]) == pytest.approx(-6)
    assert row["flexion_low_stops_at"] == "facet overlap"
    assert float(joints["caudal 3"]["flexion_beyond_deg"]) == pytest.approx(2)
    assert joints["jaw"]["flexion_low_deg"] == ""
    base = {row["quantity"]: row for row in read_csv(folder / "base.csv")}
    assert float(base["weight"]["value"]) == pytest.approx(found.mass_kg * 9.80665)
    feet = read_csv(folder / "feet.csv")
    assert sum(float(row["share_percent"]) for row in feet) == pytest.approx(100)
    poses = read_csv(written / "poses.csv")
    assert [row["pose"] for row in poses] == ["neutral", "looking up / left"]
    assert [row["checks_fails"] for row in poses] == ["0", "1"]
    assert [row["state"] for row in poses] == ["holds", "fails"]
    assert [row["joints_beyond_limits"] for row in poses] == ["0", "1"]


def test_moments_of_the_base_follow_from_the_elements_table(written: Path) -> None:
    """Statics by hand: the moment of all weights about the datum."""
    elements = read_csv(written / TURNED / "elements.csv")
    base = {row["quantity"]: row for row in read_csv(written / TURNED / "base.csv")}
    datum = np.array([float(base["datum"][axis]) for axis in "xyz"])
    moment = np.zeros(3)
    for row in elements:
        arm = np.array([float(row[f"centre_{axis}_m"]) for axis in "xyz"]) - datum
        moment += np.cross(arm, [0, 0, -9.80665 * float(row["mass_kg"])])
    said = [float(base["base moment on the ground about the datum"][axis]) for axis in "xyz"]
    np.testing.assert_allclose(said, moment, atol=1e-5)


def test_the_document_is_handed_over_as_it_was(box_document: Kept, written: Path) -> None:
    assert document_to_text(read_document(written / "skeleton.json")) == document_to_text(box_document[0])


def test_only_the_poses_asked_for(box_document: Kept, tmp_path: Path) -> None:
    document, path = box_document
    write_handover(document, path, tmp_path / "out", ["neutral", "neutral"], ignore_progress)
    assert "neutral" in os.listdir(tmp_path / "out")
    assert TURNED not in os.listdir(tmp_path / "out")
    with pytest.raises(SkeletonError, match="dancing"):
        write_handover(document, path, tmp_path / "other", ["dancing"], ignore_progress)
    with pytest.raises(SkeletonError, match="no pose"):
        write_handover(replace(document, poses=()), path, tmp_path / "other", None, ignore_progress)
    assert os.listdir(tmp_path) == ["out"]


def test_names_that_would_lead_out_or_clash(box_document: Kept, tmp_path: Path) -> None:
    document, path = box_document
    names = ("../evil", "EVIL")
    poses = tuple(replace(pose, name=name) for pose, name in zip(document.poses, names, strict=True))
    write_handover(replace(document, poses=poses), path, tmp_path / "out", None, ignore_progress)
    assert os.listdir(tmp_path) == ["out"]
    assert {"evil", "EVIL_2"} <= set(os.listdir(tmp_path / "out"))
    assert (tmp_path / "out" / "EVIL_2" / "meshes" / "skull_mm.stl").is_file()


def test_elements_whose_names_differ_in_case_alone(own_box_document: Kept, tmp_path: Path) -> None:
    document, path = own_box_document
    text = document_to_text(document).replace('"caudal 2"', '"Caudal 1"')
    path.write_text(text, encoding="utf-8")
    write_handover(read_document(path), path, tmp_path / "out", ["neutral"], ignore_progress)
    files = [name.casefold() for name in os.listdir(tmp_path / "out" / "neutral" / "meshes")]
    assert len(files) == len(set(files)) == len(document.skeleton.elements)


@pytest.mark.parametrize("damage", ["changed", "missing"])
def test_a_file_that_is_not_as_recorded_is_named_before_anything_is_written(
    own_box_document: Kept, tmp_path: Path, damage: str
) -> None:
    document, path = own_box_document
    victim = path.parent / "scans" / "part 3.stl"
    if damage == "missing":
        victim.unlink()
    else:
        victim.write_bytes(victim.read_bytes()[:-1] + b"\x01")
    before = sorted(os.listdir(tmp_path))
    with pytest.raises(DocumentError, match=rf"part 3\.stl: {damage}"):
        write_handover(document, path, tmp_path / "out", None, ignore_progress)
    assert sorted(os.listdir(tmp_path)) == before


def test_an_element_that_fails_on_the_way_leaves_nothing(own_box_document: Kept, tmp_path: Path) -> None:
    document, path = own_box_document
    last = document.skeleton.elements[-1]
    wrong = replace(last, solid=replace(last.solid, triangles=7))
    skeleton = replace(document.skeleton, elements=(*document.skeleton.elements[:-1], wrong))
    before = sorted(os.listdir(tmp_path))
    with pytest.raises(CounterpoiseError, match=rf"{last.name} .*records 7"):
        write_handover(replace(document, skeleton=skeleton), path, tmp_path / "out", None, ignore_progress)
    assert sorted(os.listdir(tmp_path)) == before


def test_cancelling_leaves_what_was_there(box_document: Kept, tmp_path: Path) -> None:
    document, path = box_document
    out = write_handover(document, path, tmp_path / "out", ["neutral"], ignore_progress)
    before = {p: p.read_bytes() for p in out.rglob("*") if p.is_file()}
    for steps in (0, 1, 30, 45, 59):  # checking, assessing, meshes, the manifest at last
        seen: list[float] = []

        def stop(_doing: str, share: float, seen: list[float] = seen, steps: int = steps) -> None:
            seen.append(share)
            if len(seen) > steps:
                raise Cancelled

        with pytest.raises(Cancelled):
            write_handover(document, path, out, ["neutral"], stop)
        assert os.listdir(tmp_path) == ["out"]
        assert {p: p.read_bytes() for p in out.rglob("*") if p.is_file()} == before


def test_progress_runs_forward_to_the_end(box_document: Kept, tmp_path: Path) -> None:
    document, path = box_document
    seen: list[float] = []
    write_handover(document, path, tmp_path / "out", ["neutral"], lambda _, share: seen.append(share))
    assert seen == sorted(seen)
    assert (seen[0], seen[-1]) == (0, 1)


def test_somebody_elses_folder_is_refused_at_once(box_document: Kept, tmp_path: Path) -> None:
    document, path = box_document
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "thesis.txt").write_text("years of work", encoding="utf-8")
    seen: list[str] = []
    with pytest.raises(OutputError, match="not a hand-over"):
        write_handover(document, path, tmp_path / "out", None, lambda doing, _: seen.append(doing))
    assert not seen
    assert os.listdir(tmp_path / "out") == ["thesis.txt"]


def test_a_place_where_nothing_can_be_written_is_refused_at_once(
    box_document: Kept, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A read-only disk: before the surfaces are read, not when the first file is to be written."""
    document, path = box_document

    def refuse(*_given: object, **_named: object) -> None:
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(Path, "mkdir", refuse)
    seen: list[str] = []
    with pytest.raises(OutputError, match=r"could not be written .*Read-only"):
        write_handover(document, path, tmp_path / "out", None, lambda text, _: seen.append(text))
    assert not seen
    assert os.listdir(tmp_path) == []


def test_a_very_large_whole_is_simplified_and_says_so(
    box_document: Kept, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    document, path = box_document
    full = sum(element.solid.triangles for element in document.skeleton.elements)
    monkeypatch.setattr(meshes, "GLB_TRIANGLES", full // 2)
    monkeypatch.setattr(meshes, "FEWEST", 20)
    out = write_handover(document, path, tmp_path / "out", ["neutral"], ignore_progress)
    whole = json.loads((out / "manifest.json").read_text(encoding="utf-8"))["whole_glb"]
    scene = trimesh.load_scene(out / "neutral" / "whole.glb")
    assert whole["simplified"] is True
    assert 0 < whole["triangles"] == sum(len(g.faces) for g in scene.geometry.values()) <= full // 2
    assert "simplified" in (out / "README.txt").read_text(encoding="utf-8")
    stl = [trimesh.load(file) for file in (out / "neutral" / "meshes").iterdir()]
    assert sum(len(mesh.faces) for mesh in stl) == full


def test_hollow_and_weighed_castings_are_told(own_box_document: Kept, tmp_path: Path) -> None:
    """Tables and report say how each element is cast, and how far a weighing is from the calculation."""
    document, path = own_box_document
    build = cast_series(cast_all(document.build, Casting("hollow", 0.005, 0.001)), "limb", Casting())
    build = note_weighings(build, [Weighing("sacrum", 7.0, 0.02, "crane scales")])
    cast = apply_build(document, build, path.parent / document.mesh_folder)
    written = write_handover(cast, path, tmp_path / "hand-over", ["neutral"], ignore_progress)
    rows = {row["element"]: row for row in read_csv(written / "neutral" / "elements.csv")}
    assert (rows["fore leg L"]["casting"], rows["fore leg L"]["wall_mm"]) == ("solid", "")
    sacrum = rows["sacrum"]
    assert (sacrum["casting"], float(sacrum["wall_mm"]), sacrum["mass_from"]) == ("hollow", 5.0, "weighing")
    metal = 0.2 * 0.12 * 0.12 - 0.19 * 0.11 * 0.11
    assert float(sacrum["metal_m3"]) == pytest.approx(metal, rel=5e-3)
    assert float(sacrum["calculated_kg"]) == pytest.approx(8800 * metal, rel=5e-3)
    assert float(sacrum["mass_kg"]) == 7.0
    page = html.unescape((written / "neutral" / "report.html").read_text(encoding="utf-8"))
    assert "4 solid" in page
    assert "hollow, wall 5 ± 1 mm" in page
    assert re.search(r"sacrum was weighed: 7\.00 kg, 3[67]\.\d % more than the 5\.1\d kg calculated", page)
    again = read_document(written / "skeleton.json")
    assert document_to_text(again) == document_to_text(cast)


def test_discs_and_steelwork_have_a_table_and_stand_in_the_report(own_box_document: Kept, tmp_path: Path) -> None:
    """Steel and a disc of a known size: in parts.csv, the whole's mass and the report; not in elements.csv."""
    document, path = own_box_document
    child = document.skeleton.joints[0].child
    disc = Disc(child, Material("rubber", 1000.0, 100.0, "made up"), 0.01, 0.002, 0.02)
    steel = Steelwork("spine", document.skeleton.root.name, child, "CHS", 5.0, 0.3, "made up", 2.0)
    build = replace(document.build, discs=(disc,), steelwork=(steel,))
    folder = write_handover(replace(document, build=build), path, tmp_path / "out", ["neutral"], ignore_progress)
    parts = read_csv(folder / "neutral" / "parts.csv")
    assert [(row["part"], row["kind"]) for row in parts] == [
        (child, "disc"),
        ("spine", "steelwork"),
        ("spine", "steelwork"),
    ]
    masses = [float(row["mass_kg"]) for row in parts]
    assert masses[0] == pytest.approx(0.2)
    assert sum(masses[1:]) == pytest.approx(10.0)
    elements = sum(float(row["mass_kg"]) for row in read_csv(folder / "neutral" / "elements.csv"))
    whole = next(row for row in read_csv(folder / "neutral" / "base.csv") if row["quantity"] == "mass")
    assert float(whole["value"]) == pytest.approx(elements + sum(masses))
    page = html.unescape((folder / "neutral" / "report.html").read_text("utf-8"))
    assert "Steelwork spine: CHS, 5.00 ± 0.30 kg/m over 2.00 m" in page
    assert "1 disc of rubber" in page
    assert "Bores, bosses and coatings are not in the mass." in page


def test_what_runs_into_what_is_handed_over(own_box_document: Kept, tmp_path: Path) -> None:
    """The neck curled up until the head is in it: the table has it, the report lists it, its check fails."""
    document, path = own_box_document
    curled = Pose("folded", {f"cervical {i}": np.radians([-45.0, 0.0, 0.0]) for i in range(1, 6)})
    document = replace(document, poses=(document.poses[0], curled))
    folder = write_handover(document, path, tmp_path / "set", None, ignore_progress)
    assert read_csv(folder / "neutral" / "hits.csv") == []
    assert "No element runs into another" in (folder / "neutral" / "report.html").read_text(encoding="utf-8")
    rows = read_csv(folder / "folded" / "hits.csv")
    assert any("skull" in (row["element"], row["other_element"]) and row["state"] == "fails" for row in rows)
    worst = rows[0]
    assert float(worst["depth_m"]) > float(worst["allowed_m"])
    report = (folder / "folded" / "report.html").read_text(encoding="utf-8")
    assert f"{worst['element']} – {worst['other_element']}" in report
    checks = {row["check"]: row for row in read_csv(folder / "folded" / "checks.csv")}
    assert checks["Nothing runs into another"]["state"] == "fails"


def test_nobody_casts_a_mount_but_the_ranges_are_held_against_it(box_document: Kept, tmp_path: Path) -> None:
    document, path = box_document
    mounted = {element.name: element.X_WE for element in document.skeleton.elements}
    before = Pose("as mounted before", mounted=mounted)
    kept = replace(document, poses=(document.poses[0], before))
    written = write_handover(kept, path, tmp_path / "set", None, ignore_progress)
    assert [row["pose"] for row in read_csv(written / "poses.csv")] == ["neutral"]
    assert not (written / "as_mounted_before").exists()
    assert "as mounted before" in (written / "ranges" / "ranges.html").read_text(encoding="utf-8")
    named = write_handover(kept, path, tmp_path / "named", ["as mounted before"], ignore_progress)
    assert [row["pose"] for row in read_csv(named / "poses.csv")] == ["as mounted before"]
