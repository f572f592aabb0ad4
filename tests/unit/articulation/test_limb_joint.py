"""Joints of limbs, whole: frames alike on either side, limits that can be worked out, objections in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.articulation import limb_joint
from core_calcs.articulation.column_joint import ASKS_FOR_HAND
from core_calcs.articulation.limb_joint import find_limb_joint
from core_calcs.articulation.limits import Trial, try_angles
from core_calcs.skeleton.envelope import measure_inside
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.spatial.rotations import joint_rotation

FAR = LimitSettings(search_rad=float(np.radians(150)))


def ends_deg(joint):
    return np.degrees([[limit.low.angle_rad, limit.high.angle_rad] for limit in joint.limits])


@pytest.fixture(scope="module")
def hinge(limbs):
    pair = limbs.make_half_roller()
    return find_limb_joint(pair.parent, pair.child, "left", replace(FAR, gap_share_s=100.0))


def test_a_shell_slides_off_its_roller_where_half_of_it_has_left(hinge):
    """The roller is round over half a turn; the shell reaches 30° to either side: half of it has left at 90°."""
    assert (hinge.kind, hinge.confidence, hinge.fit.family) == ("limb", "found", "hinge")
    low, high = ends_deg(hinge)[0]
    for stop, angle in ((hinge.limits[0].low, -low), (hinge.limits[0].high, high)):
        assert stop.reason == "facet overlap"
        assert angle == pytest.approx(90, abs=4)


def test_a_hinge_is_held_about_its_other_axes(hinge):
    for limit in hinge.limits[1:]:
        assert (limit.low.angle_rad, limit.high.angle_rad) == (0, 0)
        assert limit.low.reason == limit.high.reason == "held"


def test_a_hinge_has_its_axis_and_centre(hinge):
    assert abs(hinge.X_WJ[1, 0]) == pytest.approx(1, abs=1e-3)  # its axis is y
    assert hinge.X_WJ[:3, 3] == pytest.approx([0, 0, 0], abs=0.02)
    assert hinge.X_WJ[:3, 1] == pytest.approx([0, 0, 1], abs=0.02)  # the child's long axis
    assert {facet.element for facet in hinge.facets} == {"parent", "child"}


@pytest.fixture(scope="module")
def balls(limbs):
    pair = limbs.make_pair("ball", 3, turned=False)
    mirrored = limbs.mirror_pair(pair)
    return [find_limb_joint(p.parent, p.child, side, FAR) for p, side in ((pair, "left"), (mirrored, "right"))]


def test_the_same_angles_mean_the_same_movement_on_either_side(balls):
    """Turned by the same angles, left and right stay mirror images."""
    M = np.diag([1.0, -1.0, 1.0])
    angles = np.radians([20, 15, -10])
    turns = []
    for joint in balls:
        R = joint.X_WJ[:3, :3]
        turns.append(R @ joint_rotation(angles, joint.senses) @ R.T)
    assert turns[1] == pytest.approx(M @ turns[0] @ M, abs=0.02)


def test_left_and_right_have_the_same_limits(balls):
    left, right = (ends_deg(joint) for joint in balls)
    assert left == pytest.approx(right, abs=3)
    assert (left[:, 0] < -5).all()
    assert (left[:, 1] > 5).all()


def test_a_balls_angles_say_each_attitude_in_one_way_alone(balls):
    """Below 270° together; the ball itself would turn on to the end of the search."""
    for joint in balls:
        assert joint.limits[2].high.reason == "search range"
        assert np.abs(ends_deg(joint)).max(axis=1).sum() < 270


def test_flexion_of_a_ball_swings_the_child_to_the_head_where_it_hangs_down(limbs):
    pair = limbs.make_pair("ball", 3, turned=False)
    upside_down = limbs.turn_pair(pair, np.diag([1.0, -1.0, -1.0]))
    joint = find_limb_joint(upside_down.parent, upside_down.child, "left", FAR)
    turn = joint_rotation(np.radians([30, 0, 0]), joint.senses)
    moved = joint.X_WJ[:3, :3] @ turn @ np.array([0, 1.0, 0])
    assert moved[0] > joint.X_WJ[0, 1] + 0.3
    outwards = joint.X_WJ[:3, :3] @ joint_rotation(np.radians([0, 30, 0]), joint.senses) @ np.array([0, 1.0, 0])
    assert outwards[1] > joint.X_WJ[1, 1] + 0.3  # to the animal's left


def test_a_saddle_turns_about_two_axes(limbs):
    pair = limbs.make_pair("saddle", 1, turned=False)
    joint = find_limb_joint(pair.parent, pair.child, "left", FAR)
    assert joint.fit.family == "saddle"
    assert len(joint.fit.radii_m) == 2
    assert (ends_deg(joint)[:2, 0] < -2).all()
    assert joint.limits[2].low.reason == "held"
    # What the two allow together: less than the box, and the same as any attitude says that is tried by itself.
    envelope, ends = joint.envelope, np.radians(ends_deg(joint))
    np.testing.assert_allclose(envelope.scale_rad[:2], ends[:2], rtol=1e-12)
    assert (envelope.scale_rad[2] == 0).all()
    tried: list[Trial] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(limb_joint, "find_envelope", lambda trial, *_: tried.append(trial))  # as it is asked for
        find_limb_joint(pair.parent, pair.child, "left", FAR)
    attitudes = np.random.default_rng(5).uniform(ends[:, 0], ends[:, 1], (150, 3))
    free = np.array([try_angles(tried[0], angles) is None for angles in attitudes])
    inside = np.array([measure_inside(joint.limits, envelope, angles) >= 0 for angles in attitudes])
    assert 0.1 < free.mean() < 0.97
    assert (free == inside).mean() > 0.93


def test_what_is_ambiguous_stays_fixed_and_says_why(limbs):
    pair = limbs.make_flat_pair()
    joint = find_limb_joint(pair.parent, pair.child, "left", FAR)
    assert (joint.kind, joint.confidence, joint.limits) == ("fixed", "ambiguous", None)
    assert joint.reason.endswith(ASKS_FOR_HAND)
    assert joint.facets


def test_bones_that_do_not_face_each_other_are_fixed(limbs):
    pair = limbs.make_flat_pair(gap=3.0)
    joint = find_limb_joint(pair.parent, pair.child, "left", FAR)
    assert (joint.kind, joint.confidence, joint.fit) == ("fixed", "none", None)
    assert joint.reason == f"its bones do not face each other{ASKS_FOR_HAND}"
