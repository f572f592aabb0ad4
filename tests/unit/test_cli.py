"""The command line: the whole way on a small made-up animal, and every way to go wrong."""

from __future__ import annotations

import dataclasses
import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner, Result

from core_calcs.cli import main
from core_calcs.cli.articulating import is_proposal
from core_calcs.document.document import SCHEMA_VERSION
from core_calcs.document.editing import add_pose, set_site
from core_calcs.document.reading import document_to_text, read_document, write_document
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.table import read_table, write_table
from core_calcs.spatial.errors import Cancelled
from core_calcs.statics.site import Site
from core_calcs.studies.assess import assess

REPOSITORY = Path(__file__).parents[2]
DENSITY = 8360.0
"""Of the default build, UNS C87300 [kg/m³]: Copper Development Association data sheet."""

# name, centre and size [mm]: boxes, so that volume and mass are exact
BOXES = {
    "T1": ((260, 0, 1000), (110, 80, 80)),
    "L1": ((140, 0, 1000), (110, 80, 80)),
    "sacrum": ((0, 0, 1000), (150, 100, 100)),
    "Ca1": ((-140, 0, 1000), (110, 60, 60)),
    "scapula_L": ((260, 110, 850), (90, 40, 260)),
    "scapula_R": ((260, -110, 850), (90, 40, 260)),
    "humerus_L": ((260, 110, 355), (60, 60, 710)),
    "humerus_R": ((260, -110, 355), (60, 60, 710)),
    "femur_L": ((0, 110, 480), (70, 70, 960)),
    "femur_R": ((0, -110, 480), (70, 70, 960)),
}
VOLUME_M3 = sum(float(np.prod(size)) for _, size in BOXES.values()) * 1e-9


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def write_box(path: Path, centre: tuple[float, float, float], size: tuple[float, float, float]) -> None:
    mesh = trimesh.creation.box(extents=size).subdivide().subdivide()
    mesh.apply_translation(centre)
    mesh.export(path)


@dataclass(frozen=True)
class Place:
    """Where a made-up animal and what was made of it lie."""

    folder: Path

    @property
    def meshes(self) -> Path:
        return self.folder / "scans"

    @property
    def table(self) -> Path:
        return self.folder / "elements.csv"

    @property
    def document(self) -> Path:
        return self.folder / "animal.json"


@pytest.fixture(scope="module")
def finished(tmp_path_factory) -> Place:
    """Surveyed and articulated once for the module."""
    place = Place(tmp_path_factory.mktemp("animal"))
    place.meshes.mkdir()
    for name, (centre, size) in BOXES.items():
        write_box(place.meshes / f"{name}.stl", centre, size)
    assert run("survey", place.meshes, "--table", place.table).exit_code == 0
    made = run("articulate", place.table, "--meshes", place.meshes, "--document", place.document, "--search-deg", 10)
    assert made.exit_code == 0, made.output
    return place


@pytest.fixture
def place(finished, tmp_path) -> Place:
    """A copy that a test may change."""
    shutil.copytree(finished.folder, tmp_path / "animal")
    return Place(tmp_path / "animal")


def list_files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


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


def test_articulate_writes_a_document_that_stands(finished):
    document = read_document(finished.document)
    assert document.mesh_folder == "scans"
    assert document.skeleton.name == "animal"
    assert [pose.name for pose in document.poses] == ["as scanned"]
    assert {joint.child for joint in document.skeleton.joints if joint.moves} == {"T1", "L1", "Ca1"}
    assert all(
        joint.settings.search_rad == pytest.approx(np.radians(10)) for joint in document.skeleton.joints if joint.moves
    )
    found = assess(document.skeleton, document.poses[0], document.build, document.site)
    assert sum(bool(len(foot.points_m)) for foot in found.feet) == 4
    assert found.distance_margin_m is not None
    assert found.distance_margin_m > 0


def test_articulate_as_json(place):
    options = ["--meshes", place.meshes, "--document", place.folder / "again.json", "--search-deg", 2, "--json"]
    told = run("articulate", place.table, *options, "--name", "Ära", "--material", "UNS C95400 aluminium bronze")
    assert told.exit_code == 0, told.stderr
    tree = json.loads(told.stdout)
    assert (tree["name"], tree["root"], tree["elements"]) == ("Ära", "Sacrum", 10)
    ranges = [j["flexion_lateral_axial_deg"] for j in tree["joints"] if j["kind"] == "column"]
    assert np.allclose(ranges, np.array([-2.0, 2.0]), atol=1e-9)  # nothing stops these boxes within two degrees
    assert read_document(place.folder / "again.json").build.material.name == "UNS C95400 aluminium bronze"


def test_hollow_castings_of_the_whole_a_series_and_an_element(place):
    """Closed form: each box less the box inside its wall; what was weighed goes before it."""
    order = ["--meshes", place.meshes, "--document", place.document, "--search-deg", 2]
    assert run("articulate", place.table, *order, "--wall-mm", 5).exit_code == 0
    assert is_proposal(read_document(place.document))
    told = run("cast", place.document, "--solid", "--series", "limb")
    assert told.exit_code == 0, told.stderr
    options = ("--wall-mm", 8, "--element", "L1", "--weighed", "Ca1", 2.5, 0.05, "--note", "crane scales")
    told = run("cast", place.document, *options, "--scale-doubt-percent", 0.2)
    assert told.exit_code == 0, told.stderr
    document = read_document(place.document)
    assert not is_proposal(document)
    assert document.build.scale_doubt_share == pytest.approx(0.002)
    found = assess(document.skeleton, document.poses[0], document.build, document.site)
    walls = {element.name: 5 for element in document.skeleton.elements if element.series != "limb"} | {"L1": 8}
    for mass in found.masses:
        name = next(key for key in BOXES if key.lower().replace("_", ".") == mass.element.lower())
        size, wall = np.array(BOXES[name][1], float), walls.get(mass.element, 0)
        metal = size.prod() - (size - 2 * wall).prod() if wall else size.prod()
        assert mass.calculated_kg == pytest.approx(DENSITY * metal * 1e-9, rel=0.01), mass.element
        assert mass.mass_kg == (2.5 if mass.element == "Ca1" else mass.calculated_kg)
    assert "Ca1 was weighed: 2.50 kg" in told.stdout
    assert "wall 8 ± 1.6 mm" in told.stdout
    assert "as it was" in run("cast", place.document).stdout


def test_cast_takes_a_material_of_ones_own(finished):
    own = finished.folder / "own.json"
    shutil.copy(finished.document, own)
    said = ("--material", "house bronze", "--density", 8650, "--density-doubt", 60, "--density-source", "our own melt")
    assert run("cast", own, *said).exit_code == 0
    material = read_document(own).build.material
    assert (material.name, material.density_kg_m3, material.density_doubt_kg_m3) == ("house bronze", 8650.0, 60.0)
    assert material.source == "our own melt"
    own.unlink()


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (("--density", 8000), "needs a name, a doubt and a source"),
        (("--density-doubt", 8), "without a density"),
        (("--struts-share", 0.1), "only a hollow casting"),
        (("--solid", "--wall-mm", 5), "either solid or has a wall"),
        (("--series", "ribs"), "nothing is said of how to cast them"),
        (("--element", "Nobody", "--solid"), "Nobody"),
        (("--weighed", "Nobody", 3, 0.1), "Nobody"),
        (("--material", "kryptonite"), "kryptonite"),
    ],
)
def test_cast_refuses_what_says_nothing_whole(finished, options, what):
    before = finished.document.read_bytes()
    told = run("cast", finished.document, *options)
    assert told.exit_code not in (0, 70)
    assert what in told.stderr
    assert finished.document.read_bytes() == before


def test_contacts_are_named_let_off_in_a_pose_and_removed(place):
    """Ca1 is said to touch: it is 970 mm above the ground, so that nothing changes until a pose brings it down."""
    shown = run("contacts", place.document)
    assert shown.exit_code == 0, shown.output
    assert "as it was" in shown.stdout
    feet = [foot.name for foot in read_document(place.document).skeleton.feet]
    added = run("contacts", place.document, "--add", "tail", "--element", "Ca1")
    assert added.exit_code == 0, added.output
    assert [line.split() for line in added.stdout.splitlines() if line.startswith("tail")] == [
        ["tail", "by", "hand", "lifted", "Ca1"]
    ]
    document = read_document(place.document)
    assert [foot.name for foot in document.skeleton.feet] == [*feet, "tail"]
    assert not is_proposal(document)
    before = assess(document.skeleton, document.poses[0], document.build, document.site)
    let_off = run("contacts", place.document, "--pose", "as scanned", "--idle", feet[0], "--json")
    told = {foot["name"]: foot for foot in json.loads(let_off.stdout)["contacts"]}
    assert told[feet[0]] == {
        "name": feet[0],
        "origin": "proposed",
        "elements": [contact.element for contact in document.skeleton.feet[0].contacts],
        "idle_in": ["as scanned"],
    }
    document = read_document(place.document)
    found = assess(document.skeleton, document.poses[0], document.build, document.site)
    assert before.feet[0].force_N > 0
    assert (len(found.feet[0].points_m), found.feet[0].bears) == (0, False)
    assert run("contacts", place.document, "--bear", feet[0], "--remove", "tail").exit_code == 0
    document = read_document(place.document)
    assert [foot.name for foot in document.skeleton.feet] == feet
    again = assess(document.skeleton, document.poses[0], document.build, document.site)
    assert [foot.force_N for foot in again.feet] == [foot.force_N for foot in before.feet[:-1]]


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (("--element", "Ca1"), "nothing is added"),
        (("--add", "tail"), "no element is named"),
        (("--add", "tail", "--element", "Nobody"), "Nobody"),
        (("--remove", "tail"), "nothing of that name touches the ground"),
        (("--pose", "as scanned"), "nothing is said of it"),
        (("--pose", "dancing", "--idle", "fore left foot"), "dancing"),
        (("--idle", "nose"), "nose"),
        (("--idle", "nose", "--bear", "nose"), "it cannot both bear and not"),
    ],
)
def test_contacts_refuses_what_says_nothing_whole(finished, options, what):
    before = finished.document.read_bytes()
    told = run("contacts", finished.document, *options)
    assert told.exit_code not in (0, 70)
    assert what in told.stderr
    assert finished.document.read_bytes() == before


def test_an_element_is_placed_with_what_hangs_on_it_and_goes_back(place):
    """A shoulder blade 40 mm towards the head and 30 mm out: the arm goes along, the mass stays, the centre follows."""
    before = read_document(place.document)
    shown = run("place", place.document)
    assert shown.exit_code == 0, shown.output
    assert "No element was placed by hand" in shown.stdout
    said = ("--element", "Scapula.L", "--move-mm", 40, 30, 0, "--reason", "it stood in the ribs")
    told = run("place", place.document, *said, "--json")
    assert told.exit_code == 0, told.output
    (placed,) = json.loads(told.stdout)["placed"]
    assert (placed["element"], placed["reason"]) == ("Scapula.L", "it stood in the ribs")
    np.testing.assert_allclose([*placed["shift_mm"], placed["angle_deg"]], [40, 30, 0, 0], rtol=0, atol=1e-9)
    after = read_document(place.document)
    assert not is_proposal(after)
    masses = [assess(own.skeleton, own.poses[0], own.build, own.site) for own in (before, after)]
    assert masses[0].mass_kg == masses[1].mass_kg
    moving = sum(float(np.prod(BOXES[name][1])) for name in ("scapula_L", "humerus_L")) * 1e-9
    expected = np.array([0.04, 0.03, 0]) * moving / VOLUME_M3
    np.testing.assert_allclose(masses[1].centre_m - masses[0].centre_m, expected, rtol=0, atol=1e-9)
    refused = run("articulate", place.table, "--meshes", place.meshes, "--document", place.document)
    assert "places" in refused.stderr
    turned = run("place", place.document, "--element", "Scapula.L", "--turn-deg", 0, 0, 2, 90, "--reason", "twisted")
    assert [line.split()[:8] for line in turned.stdout.splitlines() if line.startswith("Scapula.L")] == [
        ["Scapula.L", before.skeleton.joint_of("Scapula.L").parent, "40.0", "30.0", "0.0", "90.0°", "(0,", "0,"]
    ]
    assert run("place", place.document, "--element", "Scapula.L", "--scanned").exit_code == 0
    back = read_document(place.document)
    for was, now in zip(before.skeleton.elements, back.skeleton.elements, strict=True):
        np.testing.assert_allclose(now.X_WE, was.X_WE, rtol=0, atol=1e-12)
    assert is_proposal(back)


def test_an_element_follows_two_and_one_again(place):
    told = run("place", place.document, "--element", "Scapula.L", "--also", "L1", "--json")
    assert told.exit_code == 0, told.output
    parent = read_document(place.document).skeleton.joint_of("Scapula.L").parent
    assert json.loads(told.stdout)["straddling"] == [{"element": "Scapula.L", "parent": parent, "also": "L1"}]
    assert not is_proposal(read_document(place.document))
    shown = run("place", place.document)
    assert [line.split() for line in shown.stdout.splitlines() if line.startswith("Scapula.L")] == [
        ["Scapula.L", parent, "L1"]
    ]
    assert run("place", place.document, "--element", "Scapula.L", "--alone").exit_code == 0
    assert is_proposal(read_document(place.document))


def test_the_table_says_what_follows_two_and_a_hand_that_differs_is_not_written_over(place):
    rows = read_table(place.table)
    assert {row.also for row in rows} == {""}
    write_table(place.table, [dataclasses.replace(r, also="L1") if r.element == "Scapula.L" else r for r in rows])
    assert "following two elements, half and half: 1\n" in run("survey", place.meshes, "--table", place.table).stdout
    order = ("articulate", place.table, "--meshes", place.meshes, "--document", place.document, "--search-deg", 2)
    for _ in range(2):  # what the table says is a proposal, and may be written over
        told = run(*order, "--json")
        assert told.exit_code == 0, told.output
        assert {j["child"]: j["also"] for j in json.loads(told.stdout)["joints"] if j["also"]} == {"Scapula.L": "L1"}
    assert run("place", place.document, "--element", "Scapula.L", "--alone").exit_code == 0
    refused = run(*order)
    assert refused.exit_code == 7
    assert "set by hand" in refused.stderr
    assert read_document(place.document).skeleton.joint_of("Scapula.L").also is None
    assert run(*order, "--replace").exit_code == 0
    assert read_document(place.document).skeleton.joint_of("Scapula.L").also == "L1"


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (("--element", "Scapula.L", "--also", "Nobody"), "Nobody"),
        (("--element", "Scapula.L", "--also", "Humerus.L"), "hangs on"),
        (("--element", "Scapula.L", "--also", "L1", "--alone"), "one element and two"),
        (("--also", "L1"), "which element is meant"),
        (("--move-mm", 1, 0, 0), "which element is meant"),
        (("--element", "Scapula.L"), "not said where to"),
        (("--element", "Scapula.L", "--move-mm", 1, 0, 0), "without a reason"),
        (("--element", "Scapula.L", "--move-mm", 1, 0, 0, "--scanned"), "at once"),
        (("--element", "Scapula.L", "--scanned"), "stands where it was scanned"),
        (("--element", "Scapula.L", "--scanned", "--reason", "so"), "keeps no reason"),
        (("--element", "Scapula.L", "--move-mm", 1, 0, 0, "--about-mm", 0, 0, 0, "--reason", "so"), "no turn about it"),
        (("--element", "Scapula.L", "--turn-deg", 0, 0, 0, 9, "--reason", "so"), "no direction"),
        (("--element", "Scapula.L", "--move-mm", "nan", 0, 0, "--reason", "so"), "not finite"),
        (("--element", "Sacrum", "--move-mm", 1, 0, 0, "--reason", "so"), "the root has no joint"),
        (("--element", "Nobody", "--move-mm", 1, 0, 0, "--reason", "so"), "Nobody"),
    ],
)
def test_place_refuses_what_says_nothing_whole(finished, options, what):
    before = finished.document.read_bytes()
    told = run("place", finished.document, *options)
    assert told.exit_code not in (0, 70)
    assert what in told.stderr
    assert finished.document.read_bytes() == before


def test_assess_tries_another_casting_and_leaves_the_document(finished):
    before = finished.document.read_bytes()
    told = run("assess", finished.document, "--wall-mm", 5, "--material", "UNS C95400 aluminium bronze", "--json")
    assert told.exit_code == 0, told.stderr
    sizes = np.array([size for _, size in BOXES.values()], float)
    metal = (sizes.prod(axis=1) - (sizes - 10).prod(axis=1)).sum() * 1e-9
    assert json.loads(told.stdout)["assessments"][0]["mass_kg"] == pytest.approx(7450 * metal, rel=5e-3)
    assert finished.document.read_bytes() == before


def test_feet_of_unequal_length_are_levelled_or_told(place):
    """Both fore legs 8 mm short: they stand within 10 mm, not within 5, and after a tilt of 8 mm in their distance."""
    for name in ("humerus_L", "humerus_R"):
        centre, size = BOXES[name]
        write_box(place.meshes / f"{name}.stl", (*centre[:2], centre[2] + 4), (*size[:2], size[2] - 8))
    order = ("articulate", place.table, "--meshes", place.meshes, "--document", place.document, "--search-deg", 2)
    told = run(*order)
    assert "2 of 4 feet stand within 5 mm of the ground; not: fore left foot, fore right foot." in told.stdout
    told = run(*order, "--contact-tolerance-mm", 10)
    assert "all 4 feet stand within 10 mm of the ground." in told.stdout
    document = read_document(place.document)
    assert document.site.contact_tolerance_m == 0.01
    assert is_proposal(document)
    # It tips forwards about the hind legs' front edges, x = 35 mm, on to the fore legs' front edges, x = 290 mm.
    tilt = re.search(r"all 4 feet stand within 5 mm of the ground, tilted by ([0-9.]+)°", run(*order, "--level").stdout)
    assert tilt is not None
    assert float(tilt[1]) == pytest.approx(np.degrees(np.arctan(8 / 255)), abs=0.006)


def test_work_of_the_users_is_not_written_over(place):
    document = read_document(place.document)
    assert is_proposal(document)
    assert not is_proposal(set_site(document, Site(ground_m=0.1)))
    mine = add_pose(document, Pose("bold", {"T1": np.array([0.05, 0.0, 0.0])}))
    assert not is_proposal(mine)
    write_document(place.document, mine)
    before = list_files(place.folder)
    order = ("articulate", place.table, "--meshes", place.meshes, "--document", place.document, "--search-deg", 2)
    refused = run(*order)
    assert refused.exit_code == 7
    assert "--replace" in refused.stderr
    assert list_files(place.folder) == before
    assert run(*order, "--replace").exit_code == 0
    assert [pose.name for pose in read_document(place.document).poses] == ["as scanned"]


def test_assess_tells_what_the_study_finds(finished):
    """Mass against the boxes' own volumes: closed form."""
    told = run("assess", finished.document)
    assert told.exit_code == 0
    mass = f"{VOLUME_M3 * DENSITY:.0f} kg"
    assert mass in told.stdout
    for word in ("pose as scanned", "● holds", "Distance margin", "Tip angle", "licensed structural engineer"):
        assert word in told.stdout
    tree = json.loads(run("assess", finished.document, "--json").stdout)
    assert tree["assessments"][0]["mass_kg"] == pytest.approx(VOLUME_M3 * DENSITY, rel=1e-6)
    assert "licensed structural engineer" in tree["caution"]


def test_assess_strict_tells_a_failing_check_by_its_code(place):
    document = read_document(place.document)
    write_document(place.document, add_pose(document, Pose("twisted", {"T1": np.array([0.0, 0.0, 1.0])})))
    assert run("assess", place.document, "--strict", "--pose", "as scanned").exit_code == 0
    assert run("assess", place.document).exit_code == 0
    told = run("assess", place.document, "--strict", "--pose", "twisted")
    assert told.exit_code == 8
    assert "✕ fails" in told.stdout


def test_assess_tells_mesh_files_that_changed(place):
    assert run("assess", place.document, "--check-meshes", "--strict").exit_code == 0
    (place.meshes / "T1.stl").write_bytes(b"another scan")
    (place.meshes / "L1.stl").unlink()
    told = run("assess", place.document, "--check-meshes", "--strict")
    assert told.exit_code == 8
    assert "10 mesh files, 2 missing or changed" in told.stdout
    assert "T1.stl: changed" in told.stdout
    assert "L1.stl: missing" in told.stdout


def test_handover_writes_every_element(finished, tmp_path):
    told = run("handover", finished.document, tmp_path / "out", "--pose", "as scanned", "--json")
    assert told.exit_code == 0, told.stderr
    files = json.loads(told.stdout)["files"]
    assert sum(file.endswith(".stl") for file in files) == len(BOXES)
    assert all((tmp_path / "out" / file).is_file() for file in files)
    again = trimesh.load_mesh(tmp_path / "out" / next(file for file in files if "T1" in file))
    assert again.volume == pytest.approx(float(np.prod(BOXES["T1"][1])), rel=1e-5)


def _newer(place: Place) -> None:
    text = place.document.read_text(encoding="utf-8")
    place.document.write_text(text.replace(f'"version": {SCHEMA_VERSION}', '"version": 99'), encoding="utf-8")


def _edit(index: int, **changes: object):
    def edit(place: Place) -> None:
        rows = list(read_table(place.table))
        rows[index] = dataclasses.replace(rows[index], **changes)
        write_table(place.table, rows)

    return edit


def _add_twin(place: Place) -> None:
    rows = read_table(place.table)
    write_table(place.table, (*rows, dataclasses.replace(rows[0], element="twin")))


def _cut(place: Place) -> None:
    place.document.write_bytes(place.document.read_bytes()[:-200])


def _write(name: str, content: bytes):
    return lambda place: (place.folder / name).write_bytes(content)


def _nothing(_place: Place) -> None:
    pass


SURVEY = ("survey", "{meshes}", "--table", "{table}")
NEWER = f"version 99; this program knows versions up to {SCHEMA_VERSION}"
ARTICULATE = ("articulate", "{table}", "--meshes", "{meshes}", "--document", "{folder}/new.json")
ASSESS = ("assess", "{document}")
HANDOVER = ("handover", "{document}", "{folder}/out")
FAILURES = [
    (_nothing, ("survey", "{folder}/none"), 3, "there is no such folder"),
    (lambda p: (p.folder / "bare").mkdir(), ("survey", "{folder}/bare"), 3, "it holds no STL"),
    (_nothing, ("survey", "{meshes}", "--unit", "furlong"), 3, "unknown unit 'furlong'"),
    (_edit(0, file="gone.stl"), SURVEY, 4, "there is no mesh file 'gone.stl'"),
    (_edit(0, file="../scans/T1.stl"), SURVEY, 4, "does not lie in the mesh folder"),
    (_edit(0, file="gone.stl"), ARTICULATE, 4, "there is no mesh file 'gone.stl'"),
    (_edit(0, file="../scans/T1.stl"), ARTICULATE, 4, "does not lie in the mesh folder"),
    (_edit(0, element="../T1"), ARTICULATE, 4, "cannot be a file's name"),
    (_edit(0, body=7), ARTICULATE, 4, "has no body 7"),
    (_edit(0, parent="nobody"), ARTICULATE, 4, "there is no element 'nobody'"),
    (_add_twin, ARTICULATE, 4, "is already in row 2"),
    (_write("scans/T1.stl", b""), ARTICULATE, 4, "cannot be used"),
    (_write("elements.csv", b""), ARTICULATE, 4, "it holds no rows"),
    (_write("elements.csv", b"\xff\xfe\x00"), ARTICULATE, 4, "not UTF-8"),
    (lambda p: p.table.unlink(), ARTICULATE, 4, "cannot be read"),
    (_nothing, (*ARTICULATE, "--material", "butter"), 1, "material 'butter'"),
    (_nothing, (*ARTICULATE, "--overlap-share", "2"), 2, "overlap-share"),
    (_nothing, (*ARTICULATE[:-1], "{folder}/none/new.json"), 7, "its folder is not there"),
    (_write("new.json", b"a letter"), ARTICULATE, 5, "it is not JSON"),
    (_newer, (*ARTICULATE[:-1], "{document}"), 5, NEWER),
    (_newer, (*ARTICULATE[:-1], "{document}", "--replace"), 5, NEWER),
    (_nothing, ("assess", "{folder}/none.json"), 5, "there is no such file"),
    (_newer, ASSESS, 5, NEWER),
    (_cut, ASSESS, 5, "it is cut off"),
    (_write("animal.json", b""), ASSESS, 5, "it is empty"),
    (_nothing, ("assess", "{meshes}/T1.stl"), 5, "not"),
    (_nothing, (*ASSESS, "--pose", "bold"), 6, "no pose of that name"),
    (_newer, HANDOVER, 5, NEWER),
    (_nothing, (*HANDOVER, "--pose", "bold"), 6, "no pose of that name"),
    (_write("scans/T1.stl", b"another scan"), HANDOVER, 5, "T1.stl"),
    (lambda p: (p.meshes / "T1.stl").unlink(), HANDOVER, 5, "T1.stl"),
    (_nothing, ("handover", "{document}", "{meshes}"), 7, "scans"),
    (_nothing, ("assess",), 2, "Missing argument"),
    (_nothing, ("juggle",), 2, "No such command"),
]


@pytest.mark.parametrize(
    ("spoil", "command", "code", "words"), FAILURES, ids=[f"{i}-{f[1][0]}-{f[3]:.25}" for i, f in enumerate(FAILURES)]
)
def test_a_failure_is_plain_and_writes_nothing(place, spoil, command, code, words):
    spoil(place)
    before = list_files(place.folder)
    names = {"folder": place.folder, "meshes": place.meshes, "table": place.table, "document": place.document}
    told = run(*(part.format(**names) for part in command), *(["--json"] if code != 2 else []))
    assert told.exit_code == code, told.stderr
    last = told.stderr.strip().splitlines()[-1]
    assert words in last
    assert "Traceback" not in told.output
    assert told.stdout == ""
    if code != 2:
        assert last.startswith("counterpoise: ")
        assert last.endswith(".")
    assert list_files(place.folder) == before


@pytest.mark.parametrize("interruption", [KeyboardInterrupt, Cancelled])
def test_an_interruption_ends_with_130(finished, monkeypatch, interruption):
    def interrupt(*_: object) -> None:
        raise interruption

    monkeypatch.setattr("core_calcs.cli.assessing.prepare", interrupt)
    told = run("assess", finished.document)
    assert told.exit_code == 130
    assert told.stderr.strip().splitlines()[-1].startswith("counterpoise: interrupted")


def test_what_nobody_foresaw_keeps_its_traceback(finished, monkeypatch):
    def fail(*_: object) -> None:
        raise ZeroDivisionError("an odd one")

    monkeypatch.setattr("core_calcs.cli.assessing.prepare", fail)
    told = run("assess", finished.document)
    assert told.exit_code == 70
    assert "ZeroDivisionError: an odd one" in told.stderr
    assert "Please report it" in told.stderr.splitlines()[-1]


def test_help_tells_the_commands_in_the_order_of_the_work():
    told = run("--help")
    assert told.exit_code == 0
    at = [told.stdout.index(f"\n  {name} ") for name in ("survey", "articulate", "assess", "handover")]
    assert at == sorted(at)


def _start(*arguments: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "core_calcs", *map(str, arguments)]
    env = {**os.environ, "PYTHONPATH": str(REPOSITORY), **environment}
    return subprocess.run(command, capture_output=True, env=env, check=False)


def test_it_speaks_plain_ascii_where_the_locale_knows_no_more(place):
    document = read_document(place.document)
    renamed = dataclasses.replace(document.skeleton, name="Ära")
    write_document(place.document, dataclasses.replace(document, skeleton=renamed))
    told = _start("assess", place.document, LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
    assert told.returncode == 0
    text = told.stdout.decode("ascii")
    assert "+ holds" in text
    assert "\\xc4ra: 10 elements" in text


def test_it_runs_as_a_module_into_a_pipe(finished):
    told = _start("assess", finished.document, "--json")
    assert told.returncode == 0
    assert json.loads(told.stdout)["assessments"][0]["pose"] == "as scanned"
    assert b"\x1b[" not in told.stdout + told.stderr


def test_the_document_of_the_command_line_is_written_without_loss(finished):
    text = finished.document.read_text(encoding="utf-8")
    assert document_to_text(read_document(finished.document)) == text
