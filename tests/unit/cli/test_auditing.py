"""The audit on the command line: what is the same either way cannot be told, and nothing is blamed for it."""

from __future__ import annotations

import json

from tests.unit.cli.driving import run


def test_boxes_cannot_be_told(place):
    before = place.document.read_bytes()
    told = run("audit", place.document, "--strict")
    assert told.exit_code == 0, told.output
    assert "7 tried: 0 as placed, 0 wrong, 7 undecided." in told.stdout
    assert place.document.read_bytes() == before
    row = next(line for line in told.stdout.splitlines() if line.startswith("Femur.L, Femur.R"))
    assert row.split("undecided")[1].split() == ["as", "placed", "–", "none", "tried", "–"]
    reason = next(line for line in told.stdout.splitlines() if line.startswith("Femur.L, Femur.R: "))
    assert "left from right" in reason


def test_as_json_every_way_has_its_figures(place):
    tree = json.loads(run("audit", place.document, "--json").stdout)
    column, limbs = tree["verdicts"][:4], tree["verdicts"][4:]
    assert [verdict["elements"] for verdict in column] == [["T1"], ["L1"], ["Sacrum"], ["Ca1"]]
    assert {name for verdict in limbs for name in verdict["elements"]} == {
        f"{bone}.{side}" for bone in ("Scapula", "Humerus", "Femur") for side in "LR"
    }
    assert {verdict["decision"] for verdict in limbs} == {"undecided"}
    for verdict in column:
        assert verdict["fault"] == "turned"
        assert verdict["decision"] == "undecided"
        assert len(verdict["ratings"]) == 4
        scores = [rating["score"] for rating in verdict["ratings"]]
        assert scores == sorted(scores, reverse=True)
        assert "surface that meets [s²]" in verdict["ratings"][0]["figures"]


def test_a_missing_mesh_is_refused(place):
    (place.meshes / "L1.stl").unlink()
    told = run("audit", place.document)
    assert told.exit_code == 5
    assert "L1.stl" in told.stderr
