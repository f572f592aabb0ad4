"""Rigid transforms."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.spatial.transforms import apply, invert, is_rigid, make_transform


@pytest.fixture
def transforms(random_skeletons, rng):
    return np.stack([make_transform(random_skeletons.make_rotation(rng), rng.normal(size=3)) for _ in range(6)])


def test_apply_is_rotation_and_shift(transforms, rng):
    points = rng.normal(size=(6, 4, 3))
    moved = apply(transforms, points)
    for X, before, after in zip(transforms, points, moved, strict=True):
        for p, q in zip(before, after, strict=True):
            np.testing.assert_allclose(q, X[:3, :3] @ p + X[:3, 3])
    np.testing.assert_allclose(apply(transforms[0], points[0]), moved[0])


def test_inverse_is_numpys(transforms):
    np.testing.assert_allclose(invert(transforms), np.linalg.inv(transforms), atol=1e-14)
    np.testing.assert_allclose(invert(transforms[0]), np.linalg.inv(transforms[0]), atol=1e-14)


def test_composition_goes_from_right_to_left(transforms, rng):
    points = rng.normal(size=(5, 3))
    np.testing.assert_allclose(
        apply(transforms[0] @ transforms[1], points), apply(transforms[0], apply(transforms[1], points)), atol=1e-14
    )


def test_one_rotation_and_many_shifts(rng):
    assert make_transform(np.eye(3), rng.normal(size=(7, 3))).shape == (7, 4, 4)


def test_rigid_is_told_from_the_rest(transforms):
    X = transforms[0]
    assert is_rigid(X)
    mirrored, scaled, sheared, unknown, projected = (X.copy() for _ in range(5))
    mirrored[:3, 0] *= -1
    scaled[:3, :3] *= 1.001
    sheared[0, 1] += 1e-3
    unknown[0, 3] = np.nan
    projected[3, 0] = 1e-3
    for fault in (mirrored, scaled, sheared, unknown, projected, X[:3, :3], X[None]):
        assert not is_rigid(fault)
    assert is_rigid(scaled, tolerance=0.01)
