"""Quaternions against scipy's rotations and our own joint rotation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.spatial.quaternions import find_quaternion, joint_quaternion, multiply_left, multiply_right
from core_calcs.spatial.rotations import joint_rotation


def read_matrix(quaternion):
    return Rotation.from_quat(quaternion, scalar_first=True).as_matrix()


@pytest.mark.parametrize("spread", [1e-9, 0.5, 3.0, 40.0])
def test_joint_quaternion_turns_as_joint_rotation(rng, spread):
    angles = rng.normal(size=(500, 3)) * spread
    quaternions = joint_quaternion(angles.T / 2)
    np.testing.assert_allclose(np.linalg.norm(quaternions, axis=0), 1, atol=1e-15)
    np.testing.assert_allclose(read_matrix(quaternions.T), joint_rotation(angles), atol=5e-15)


def test_half_turns_whose_tangent_is_huge():
    angles = np.array(np.meshgrid(*[np.radians([-360.0, -180, -90, 0, 90, 180, 540])] * 3)).reshape(3, -1)
    np.testing.assert_allclose(read_matrix(joint_quaternion(angles / 2).T), joint_rotation(angles.T), atol=5e-15)


def test_quaternion_of_a_matrix_and_products(rng):
    first, second = Rotation.random(2, rng=rng)
    p, q = (own.as_quat(scalar_first=True) for own in (first, second))
    assert abs(find_quaternion(first.as_matrix()) @ p) == pytest.approx(1, abs=1e-15)
    product = (first * second).as_matrix()
    np.testing.assert_allclose(read_matrix(multiply_left(p) @ q), product, atol=5e-15)
    np.testing.assert_allclose(read_matrix(multiply_right(q) @ p), product, atol=5e-15)
