"""Made-up joints of known shape: centres, axes and limits as they were made, or ambiguous (tests/made_up_joints.py)."""

from __future__ import annotations

import numpy as np
import pytest

from tests.made_up_joints import LIMIT_DEG, list_joints

JOINTS = list_joints()
SOME = ("two flats", "ball, 2k triangles", "flat ends, arcs of 36°, smooth", "ball of 0.25, arcs of 30°, smooth")
WRONG = {
    **{f"{kind}, sheared": "a bone sheared by 10° is taken as it lies" for kind in ("ball", "cylinder", "pulley")},
    "condyles, sheared": "a bone sheared by 10° is taken as it lies",
    "ball of 0.3, arcs of 24°, sheared": "a bone sheared by 10° is taken as it lies",
    "ball of 0.36, arcs of 36°, sheared": "a bone sheared by 10° is taken as it lies",
    "ball of 0.3, arcs of 24°, uneven": ".027 of the radius off, the waves being .02 of it high",
    "saddle, sheared": "its second axis is 3.1° off",
    "saddle, uneven": "its second axis is 1.9° off, the standard error says 1.5°",
    "saddle, broken": "its second axis is 1.3° off, the standard error says 1.9°",
}
"""What is said to be found and is not within .02 of the radius and 1°, told so that a change is seen."""


def test_there_are_at_least_sixty_of_them():
    assert len(JOINTS) >= 60
    assert set(WRONG) < set(JOINTS)


@pytest.mark.parametrize("name", SOME)
def test_some_are_found_as_they_were_made(name):
    outcome = JOINTS[name]()
    assert outcome.verdict == ("found" if outcome.telling else "ambiguous"), outcome


@pytest.fixture(scope="module")
def outcomes():
    return {name: find() for name, find in JOINTS.items()}


@pytest.mark.slow
def test_all_are_found_as_they_were_made_but_those_told(outcomes):
    assert {name for name, outcome in outcomes.items() if outcome.verdict == "wrong"} == set(WRONG)


@pytest.mark.slow
def test_nothing_is_found_where_the_shape_tells_nothing(outcomes):
    untold = [outcome for outcome in outcomes.values() if not outcome.telling]
    assert len(untold) == 7
    assert {outcome.verdict for outcome in untold} == {"ambiguous"}


@pytest.mark.slow
def test_what_the_shape_tells_is_ambiguous_in_one_case_alone(outcomes):
    """Of 2 000 triangles a facet has few: its rim is not bounded any more."""
    missed = {name for name, outcome in outcomes.items() if outcome.telling and outcome.verdict == "ambiguous"}
    assert missed == {"ball of 0.36, arcs of 36°, 2k triangles"}


def list_limits(outcomes):
    return np.array([outcome.limits_deg for outcome in outcomes.values() if np.isfinite(outcome.limits_deg)])


@pytest.mark.slow
def test_flexion_ends_within_four_degrees_of_where_half_an_arc_has_slid_off(outcomes):
    limits = list_limits(outcomes)
    assert len(limits) >= 18
    assert limits.max() < 4
    assert np.median(limits) < 2.6


@pytest.mark.slow
@pytest.mark.xfail(
    strict=True,
    reason="not reached: .7 to 3.8° off, median 2.4°. Facets found end short of their rims by a sample or two (s/40, "
    "on arcs of twelve samples), and half of what was found slides off sooner",
)
def test_flexion_ends_within_half_a_degree(outcomes):
    assert list_limits(outcomes).max() <= LIMIT_DEG
