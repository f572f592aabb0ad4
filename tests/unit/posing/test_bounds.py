"""The ranges side by side against `skeleton.envelope`, which asks one joint at a time by another route."""

import numpy as np
import pytest

from core_calcs.posing.attitudes import hold_attitude
from core_calcs.posing.bounds import make_bounds, measure_uses, pull_inside
from core_calcs.skeleton.envelope import correct_angles, lie_inside, measure_inside


@pytest.fixture(scope="module")
def joints(chains):
    return chains.make_column(12, seed=4).joints


def test_what_lies_inside_is_what_the_envelope_says(joints, rng):
    bounds = make_bounds(joints)
    inside = 0
    for _ in range(60):
        angles = rng.normal(size=(len(joints), 3)) * 0.1
        uses, _ = measure_uses(bounds, angles)
        told = [lie_inside(joint.envelope, own)[0] for joint, own in zip(joints, angles, strict=True)]
        assert (uses <= 1).tolist() == told
        inside += sum(told)
    assert 60 < inside < 660


def test_the_way_out_is_how_the_use_grows(joints, rng):
    bounds = make_bounds(joints)
    angles = rng.normal(size=(len(joints), 3)) * 0.1
    _, gradient = measure_uses(bounds, angles)
    for axis in range(3):
        step = np.eye(3)[axis] * 1e-7
        found = (measure_uses(bounds, angles + step)[0] - measure_uses(bounds, angles - step)[0]) / 2e-7
        np.testing.assert_allclose(found, gradient[:, axis], rtol=1e-4, atol=1e-4)


def test_what_is_pulled_inside_is_inside_and_what_was_inside_stays(joints, rng):
    bounds = make_bounds(joints)
    for _ in range(50):
        angles = rng.normal(size=(len(joints), 3)) * 0.15
        pulled = pull_inside(bounds, angles)
        for joint, asked, own in zip(joints, angles, pulled, strict=True):
            assert measure_inside(joint.limits, joint.envelope, own) >= 0
            if measure_inside(joint.limits, joint.envelope, asked) > 0:
                np.testing.assert_array_equal(own, asked)


def test_the_nearest_attitude_is_no_farther_than_any_that_is_tried(joints, rng):
    """Against attitudes strewn over the surface: none of them is nearer by more than they are apart."""
    for joint in joints[:6]:
        strewn = rng.normal(size=(20000, 3))
        strewn = pull_inside(make_bounds([joint] * len(strewn)), strewn * 10)
        for asked in rng.normal(size=(10, 3)) * 0.25:
            held = hold_attitude(joint, asked)
            assert measure_inside(joint.limits, joint.envelope, held.angles_rad) >= 0
            if not held.held:
                continue
            point = correct_angles(asked)
            nearest = np.linalg.norm(correct_angles(strewn) - point, axis=1).min()
            assert np.linalg.norm(correct_angles(held.angles_rad) - point) <= nearest * 1.001


def test_what_holds_a_joint_is_named(joints):
    joint = joints[3]
    flexion = joint.limits[0].high
    held = hold_attitude(joint, np.array([flexion.angle_rad + 0.1, 0.0, 0.0]))
    assert (held.held, held.axis, held.together) == (True, "flexion", False)
    assert held.stop is flexion
    ends = np.array([axis.high.angle_rad for axis in joint.limits])
    corner = hold_attitude(joint, ends * 0.999)
    assert corner.held == (measure_inside(joint.limits, joint.envelope, ends * 0.999) < 0)
    assert corner.together == corner.held
