"""Discs as thick as said, on the command line: set, shown, set back; what does not say one thing whole is refused."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from core_calcs.cli.articulating import is_proposal
from core_calcs.document.reading import document_to_text, read_document
from tests.unit.cli.driving import run


def gaps(place) -> dict[str, float]:
    skeleton = read_document(place.document).skeleton
    return {joint.child: joint.gap_m for joint in skeleton.joints if joint.gap_m is not None}


def test_a_disc_is_set_and_set_back(place):
    before = place.document.read_bytes()
    (length,) = {round(gap, 4) for gap in gaps(place).values()} - {0.005}
    shown = json.loads(run("neutral", place.document, "--json").stdout)
    assert [disc["is_set"] for disc in shown["discs"]] == [False] * len(gaps(place))
    assert shown["state"] == "as it was"
    told = run("neutral", place.document, "--joint", "Ca1", "--disc-mm", 18, "--reason", "fresh ones have that")
    assert told.exit_code == 0, told.output
    assert "fresh ones have that" in told.stdout
    assert "1 disc is set: together" in told.stdout
    assert gaps(place)["Ca1"] == pytest.approx(0.018, abs=1e-9)
    assert gaps(place)["T1"] == pytest.approx(length, abs=1e-4)
    assert not is_proposal(read_document(place.document))
    assert run("neutral", place.document, "--all", "--as-scanned").exit_code == 0
    back = read_document(place.document)
    assert [record.action for record in back.records] == ["disc", *["put back"] * len(back.records[1:])]
    assert document_to_text(replace(back, records=())).encode() == before


def test_a_series_and_the_whole_column_at_once(place):
    told = run("neutral", place.document, "--series", "dorsal", "--disc-share", 0.1, "--reason", "as in a drawing")
    assert told.exit_code == 0, told.output
    skeleton = read_document(place.document).skeleton
    assert [joint.child for joint in skeleton.joints if joint.disc] == ["L1", "T1"]
    told = run("neutral", place.document, "--all", "--disc-mm", 4, "--reason", "mounted apart", "--json")
    assert told.exit_code == 0, told.output
    assert {disc["child"]: round(disc["thickness_m"], 9) for disc in json.loads(told.stdout)["discs"]} == {
        "L1": 0.004,
        "T1": 0.004,
        "Ca1": 0.004,
    }


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (("--disc-mm", 18, "--reason", "so"), "no joints are named"),
        (("--joint", "Ca1"), "no thickness of the discs is given"),
        (("--joint", "Ca1", "--reason", "so"), "no thickness of the discs is given"),
        (("--joint", "Ca1", "--disc-mm", 18), "without a reason"),
        (("--joint", "Ca1", "--disc-mm", 18, "--disc-share", 0.1, "--reason", "so"), "given twice"),
        (("--joint", "Ca1", "--all", "--disc-mm", 18, "--reason", "so"), "in two ways"),
        (("--joint", "Ca1", "--as-scanned", "--reason", "so"), "keeps no reason"),
        (("--joint", "Ca1", "--as-scanned"), "as scanned"),
        (("--all", "--as-scanned"), "no disc is set"),
        (("--series", "ribs", "--disc-mm", 18, "--reason", "so"), "no joint whose disc"),
        (("--joint", "Ca1", "--disc-mm", -1, "--reason", "so"), "-1"),
        (("--joint", "Ca1", "--disc-mm", "nan", "--reason", "so"), "nan"),
        (("--joint", "Ca1", "--disc-mm", 18000, "--reason", "so"), "unit"),
        (("--joint", "Femur.L", "--disc-mm", 18, "--reason", "so"), "no end plates"),
        (("--joint", "Nobody", "--disc-mm", 18, "--reason", "so"), "Nobody"),
    ],
)
def test_what_does_not_say_one_thing_whole_is_refused(finished, options, what):
    before = finished.document.read_bytes()
    told = run("neutral", finished.document, *options)
    assert told.exit_code not in (0, 70)
    assert what in told.stderr
    assert finished.document.read_bytes() == before
