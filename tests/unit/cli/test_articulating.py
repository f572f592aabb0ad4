"""From a table to a document on the command line; work of the user's is not written over."""

from __future__ import annotations

import dataclasses
import json
import re

import numpy as np
import pytest

from core_calcs.cli.articulating import is_proposal
from core_calcs.document.editing import add_pose, set_site
from core_calcs.document.reading import document_to_text, read_document, write_document
from core_calcs.site.site import Site
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.table import read_table, write_table
from core_calcs.studies.assess import assess
from tests.unit.cli.driving import BOXES, list_files, run, write_box


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


def test_what_reaches_lower_than_the_feet_is_told(place):
    """The last vertebra reaches 30 mm below the feet, which stand nevertheless."""
    centre, size = BOXES["Ca1"]
    low = centre[2] + size[2] / 2 + 30
    write_box(place.meshes / "Ca1.stl", (*centre[:2], low / 2 - 30), (*size[:2], low))
    order = ("articulate", place.table, "--meshes", place.meshes, "--document", place.document, "--search-deg", 2)
    told = run(*order)
    stand = "In the pose as scanned all 4 feet stand within 5 mm of the ground (Ca1 reaches 30 mm below it)."
    assert stand in told.stdout
    document = read_document(place.document)
    found = assess(document.skeleton, document.poses[0], document.build, document.site)
    assert all(len(foot.points_m) for foot in found.feet)
    ground = next(check for check in found.checks if check.name == "Nothing below the ground")
    assert (ground.state, ground.place) == ("fails", "Ca1")
    assert abs(ground.figure) == pytest.approx(0.03, abs=1e-6)


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


def test_the_document_of_the_command_line_is_written_without_loss(finished):
    text = finished.document.read_text(encoding="utf-8")
    assert document_to_text(read_document(finished.document)) == text


def test_a_second_run_takes_its_joints_from_the_cache_and_says_so(place, tmp_path):
    order = ("articulate", place.table, "--meshes", place.meshes, "--document", place.document, "--search-deg", 2)
    order = (*order, "--cache", tmp_path / "joints")
    first = run(*order)
    assert first.exit_code == 0, first.output
    assert "cache" not in first.stdout
    written = place.document.read_bytes()
    second = run(*order)
    told = re.search(
        r"(\d+) of the (\d+) joints looked for were taken from the cache, 0 searched for\.\n", second.stdout
    )
    assert told is not None
    assert int(told[1]) == int(told[2]) >= 3
    assert place.document.read_bytes() == written
    again = run("search", place.document, "--joint", "L1", "--cache", tmp_path / "joints")
    assert "Taken from the cache" in again.stdout
    assert "Taken from the cache" not in run("search", place.document, "--joint", "L1", "--cache", "off").stdout
    assert place.document.read_bytes() == written
