"""Made-up joints of known shape: centres, axes and limits as they were made, or ambiguous (tests/made_up_joints.py)."""

from __future__ import annotations

import numpy as np
import pytest

from tests.made_up_joints import LIMIT_DEG, list_joints

JOINTS = list_joints()
SOME = (
    "two flats",
    "ball, 2k triangles",
    "saddle, uneven",
    "flat ends, arcs of 36°, smooth",
    "ball of 0.25, arcs of 30°, smooth",
)
DEFORMED = {f"{kind}, sheared" for kind in ("ball", "cylinder", "pulley", "condyles")} | {
    "ball of 0.3, arcs of 24°, sheared",
    "ball of 0.36, arcs of 36°, sheared",
}
"""Balls that have become ellipsoids, rollers that are round no more."""


def test_there_are_at_least_sixty_of_them():
    assert len(JOINTS) >= 60
    assert set(JOINTS) > DEFORMED


@pytest.mark.parametrize("name", SOME)
def test_some_are_found_as_they_were_made(name):
    outcome = JOINTS[name]()
    assert outcome.verdict == ("found" if outcome.telling else "ambiguous"), outcome


@pytest.fixture(scope="module")
def outcomes():
    return {name: find() for name, find in JOINTS.items()}


@pytest.mark.slow
def test_none_is_said_to_be_found_and_lies_farther_off(outcomes):
    assert not [outcome for outcome in outcomes.values() if outcome.verdict == "wrong"]


@pytest.mark.slow
def test_nothing_is_found_where_the_shape_tells_nothing(outcomes):
    untold = [outcome for outcome in outcomes.values() if not outcome.telling]
    assert len(untold) == 7
    assert {outcome.verdict for outcome in untold} == {"ambiguous"}


@pytest.mark.slow
def test_what_the_shape_tells_is_found_but_where_it_is_deformed(outcomes):
    ambiguous = {name: outcome for name, outcome in outcomes.items() if outcome.verdict == "ambiguous"}
    assert {name for name, outcome in ambiguous.items() if outcome.telling} == DEFORMED
    assert all("deformed" in ambiguous[name].reason for name in DEFORMED)


def list_limits(outcomes):
    return np.array([outcome.limits_deg for outcome in outcomes.values() if np.isfinite(outcome.limits_deg)])


@pytest.mark.slow
def test_flexion_ends_where_half_an_arc_has_slid_off(outcomes):
    limits = list_limits(outcomes)
    assert len(limits) == 20
    assert limits.max() <= LIMIT_DEG
