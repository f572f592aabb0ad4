"""A joint searched for again on the command line."""

from __future__ import annotations

import json

import numpy as np

from core_calcs.cli.articulating import is_proposal
from core_calcs.document.reading import read_document
from core_calcs.skeleton.joint import Joint
from tests.unit.cli.driving import run


def bounds(joint: Joint) -> np.ndarray:
    assert joint.limits is not None
    return np.array([(limit.low.angle_rad, limit.high.angle_rad) for limit in joint.limits])


def test_a_joint_is_searched_for_again_with_other_settings_and_its_own(place):
    before = place.document.read_bytes()
    assert run("search", place.document, "--joint", "Ca1").exit_code == 0
    assert place.document.read_bytes() == before
    told = run("search", place.document, "--joint", "Ca1", "--search-deg", 3, "--gap-share", 0.1, "--json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["joint"]["settings"]["gap_share_s"] == 0.1
    after = read_document(place.document)
    joint = after.skeleton.joint_of("Ca1")
    assert joint.settings.overlap_share == 0.5
    assert np.degrees(np.abs(bounds(joint))).max() <= 3 + 1e-9
    assert not is_proposal(after)
    refused = run("articulate", place.table, "--meshes", place.meshes, "--document", place.document)
    assert refused.exit_code != 0


def test_the_limits_of_before_and_after_are_told(place):
    told = run("search", place.document, "--joint", "Ca1", "--search-deg", 3)
    assert told.exit_code == 0, told.output
    flexion = next(line for line in told.output.splitlines() if line.strip().startswith("flexion"))
    joint = read_document(place.document).skeleton.joint_of("Ca1")
    assert f"{np.degrees(bounds(joint)[0, 1]):.1f}" in flexion.split("to")[-1]
    assert "until now" in told.output


def test_what_is_fixed_by_the_table_is_left_alone(place):
    before = place.document.read_bytes()
    told = run("search", place.document, "--joint", "Scapula.L")
    assert told.exit_code == 6
    assert "fixed by the table" in told.stderr
    assert place.document.read_bytes() == before
