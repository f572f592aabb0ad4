"""What touches the ground, on the command line."""

from __future__ import annotations

import json

import pytest

from core_calcs.cli.articulating import is_proposal
from core_calcs.document.reading import read_document
from core_calcs.studies.assess import assess
from tests.unit.cli.driving import run


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
