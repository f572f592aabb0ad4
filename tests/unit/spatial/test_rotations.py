"""Joint angles and rotation matrices."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from core_calcs.spatial.rotations import joint_angles, joint_rotation

SENSES = [(1, 1, 1), (-1, 1, 1), (1, -1, 1), (1, 1, -1), (-1, -1, -1)]
ANGLE = st.floats(-3.1, 3.1)


@pytest.mark.parametrize("senses", SENSES)
def test_order_is_that_of_scipy(rng, senses):
    """Intrinsic flexion (x), lateral (z), axial (y), by scipy's own composition."""
    angles = rng.uniform(-3, 3, (50, 3))
    theirs = Rotation.from_euler("XZY", angles * senses).as_matrix()
    np.testing.assert_allclose(joint_rotation(angles, senses), theirs, atol=1e-14)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_single_axis_turns_about_its_own(axis):
    angles = np.zeros(3)
    angles[axis] = 0.3
    fixed = np.eye(3)[[0, 2, 1][axis]]
    np.testing.assert_allclose(joint_rotation(angles) @ fixed, fixed, atol=1e-15)


@settings(max_examples=80, deadline=None)
@given(ANGLE, st.floats(-1.5, 1.5), ANGLE, st.sampled_from(SENSES))
def test_angles_return(flexion, lateral, axial, senses):
    angles = np.array([flexion, lateral, axial])
    np.testing.assert_allclose(joint_angles(joint_rotation(angles, senses), senses), angles, atol=1e-9)


@pytest.mark.parametrize("lateral", [np.pi / 2, -np.pi / 2])
@pytest.mark.parametrize("senses", SENSES)
def test_rotation_returns_in_gimbal_lock(rng, lateral, senses):
    R = joint_rotation(np.column_stack([rng.uniform(-3, 3, 20), np.full(20, lateral), rng.uniform(-3, 3, 20)]), senses)
    angles = joint_angles(R, senses)
    assert (angles[:, 2] == 0).all()
    np.testing.assert_allclose(joint_rotation(angles, senses), R, atol=1e-12)


def test_senses_of_many_joints_at_once(rng):
    angles, senses = rng.uniform(-1, 1, (10, 3)), rng.choice([-1, 1], (10, 3))
    each = np.stack([joint_rotation(a, s) for a, s in zip(angles, senses, strict=True)])
    np.testing.assert_array_equal(joint_rotation(angles, senses), each)
