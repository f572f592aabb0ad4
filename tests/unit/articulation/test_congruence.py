"""How much closer bones meet in one arrangement than in another."""

from __future__ import annotations

import pytest

from core_calcs.articulation.congruence import LITTLE_S2, NARROW_S, compare_joints
from core_calcs.articulation.seating import Joint


def test_one_joint_that_doubles_its_area_gains_a_share_in_closed_form():
    gained = compare_joints({"b": Joint(0.5, 0.0)}, {"b": Joint(1.0, 0.0)})
    assert gained == pytest.approx(0.5 / (1.5 + 2 * LITTLE_S2))


def test_what_is_gained_one_way_is_lost_the_other():
    now = {"b": Joint(0.5, 0.02), "c": Joint(0.2, 0.1)}
    then = {"b": Joint(0.7, 0.03), "d": Joint(0.1, 0.0)}
    assert compare_joints(now, then) == pytest.approx(-compare_joints(then, now))
    assert compare_joints(now, now) == 0


def test_a_narrow_joint_outweighs_a_wide_one_of_the_same_share():
    """The narrow one closes, the wide one, e times less heard, opens by the same share."""
    now = {"joint": Joint(0.1, 0.0), "shafts": Joint(0.3, NARROW_S)}
    then = {"joint": Joint(0.3, 0.0), "shafts": Joint(0.1, NARROW_S)}
    share, e = 0.2 / (0.4 + 2 * LITTLE_S2), 2.718281828
    assert compare_joints(now, then) == pytest.approx(share * (1 - 1 / e) / (1 + 1 / e))


def test_of_a_large_area_of_shafts_the_share_counts_and_not_the_area():
    now = {"joint": Joint(0.1, 0.0), "shafts": Joint(2.2, 0.1)}
    then = {"joint": Joint(0.2, 0.0), "shafts": Joint(2.0, 0.1)}
    assert compare_joints(now, then) > 0


def test_bones_that_meet_nothing_gain_nothing():
    assert compare_joints({}, {}) == 0
    assert compare_joints({}, {"b": Joint(0.5, 0.0)}) > 0.5
