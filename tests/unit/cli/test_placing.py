"""Places by hand on the command line."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from core_calcs.cli.articulating import is_proposal
from core_calcs.document.reading import read_document
from core_calcs.studies.assess import assess
from tests.unit.cli.driving import BOXES, VOLUME_M3, run


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
    assert [record.action for record in back.records] == ["placed", "placed", "put back"]
    assert [record.why for record in back.records] == ["it stood in the ribs", "twisted", ""]
    assert not is_proposal(back)  # what was done and given up again is told for ever


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
    back = read_document(place.document)
    assert is_proposal(replace(back, records=()))
    assert [record.action for record in back.records] == ["follows two", "put back"]


def test_records_say_who_and_when(place, monkeypatch):
    said = ("--element", "Scapula.L", "--move-mm", 40, 30, 0)
    assert run("place", place.document, *said, "--reason", "one", "--by", "A. Somebody").exit_code == 0
    monkeypatch.setenv("COUNTERPOISE_BY", "B. Other")
    assert run("place", place.document, *said, "--reason", "two").exit_code == 0
    told = run("records", place.document, "--json")
    assert told.exit_code == 0, told.output
    records = json.loads(told.stdout)["records"]
    assert [(record["by"], record["why"]) for record in records] == [("A. Somebody", "one"), ("B. Other", "two")]
    when = [datetime.strptime(record["when"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC) for record in records]
    assert timedelta(0) <= datetime.now(UTC) - when[0] < timedelta(minutes=10)
    shown = run("records", place.document)
    (row,) = [line.split() for line in shown.stdout.splitlines() if "one" in line.split()]
    assert " ".join(row[3:]) == "A. Somebody placed Scapula.L moved by 50.0 mm (x 40, y 30, z 0) one"


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (("--element", "Scapula.L", "--also", "Nobody"), "Nobody"),
        (("--element", "Scapula.L", "--also", "Humerus.L"), "hangs on"),
        (("--element", "Scapula.L", "--also", "L1", "--alone"), "one element and two"),
        (("--also", "L1"), "no element is named"),
        (("--move-mm", 1, 0, 0), "no element is named"),
        (("--element", "Scapula.L"), "no move or turn is given"),
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
