"""Figures and the hand-over on the command line."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh

from core_calcs.document.editing import add_pose
from core_calcs.document.reading import read_document, write_document
from core_calcs.skeleton.pose import Pose
from tests.unit.cli.driving import BOXES, DENSITY, VOLUME_M3, run


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


def test_assess_tells_what_runs_into_what(place):
    """A hind leg of the boxes is laid into its neighbour; the document's allowance may be tried otherwise."""
    assert "clearance has not been checked in this pose" in run("assess", place.document).stdout
    quiet = run("assess", place.document, "--clearance", "--pose", "as scanned", "--strict")
    assert quiet.exit_code == 0, quiet.output
    assert "runs into" not in quiet.stdout.split("Nothing runs into another")[1]
    document = read_document(place.document)
    write_document(place.document, add_pose(document, Pose("folded", {"T1": np.array([0.0, 1.5, 0.0])})))
    told = run("assess", place.document, "--clearance", "--pose", "folded", "--strict")
    assert told.exit_code == 8
    tree = json.loads(run("assess", place.document, "--clearance", "--pose", "folded", "--json").stdout)
    hits = tree["assessments"][0]["clearance"]["hits"]
    assert hits
    assert " – ".join(hits[0]["elements"]) in told.stdout
    assert f"{1000 * hits[0]['depth_m']:.1f}" in told.stdout
    lenient = run("assess", place.document, "--clearance", "--clearance-share", 9, "--pose", "folded", "--json")
    strangers = json.loads(lenient.stdout)["assessments"][0]["clearance"]["hits"]
    assert all(hit["allowed_m"] > hits[0]["depth_m"] for hit in strangers if set(hit["elements"]) != {"T1", "L1"})
    assert read_document(place.document).site.clearance_share_s == 0.02


def test_what_clearance_allows_is_not_given_without_it(place):
    told = run("assess", place.document, "--clearance-share", 0.1)
    assert told.exit_code == 1
    assert "Give --clearance too" in told.stderr
