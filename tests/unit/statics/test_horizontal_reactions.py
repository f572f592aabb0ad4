"""Sharing of a push along the ground: equilibrium, the least of h²/N, and what cannot be held."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.statics.horizontal_reactions import share_horizontally


def rows_of(points):
    """Sum of forces x, y and of moments about the origin, as rows (3, 2 n)."""
    rows = np.zeros((3, 2 * len(points)))
    rows[0, 0::2] = rows[1, 1::2] = 1
    rows[2, 0::2], rows[2, 1::2] = -points[:, 1], points[:, 0]
    return rows


@pytest.mark.parametrize("count", [2, 3, 9])
def test_shares_are_those_of_least_squares(rng, count):
    points, presses, push, turn = rng.normal(size=(count, 2)), rng.uniform(1, 9, count), rng.normal(size=2), 0.7
    forces = share_horizontally(points, presses, push, turn)
    rows, root = rows_of(points), np.sqrt(np.repeat(presses, 2))
    np.testing.assert_allclose(rows @ forces.ravel(), [*-push, -turn], atol=1e-12)
    least = root * np.linalg.lstsq(rows * root, [*-push, -turn], rcond=None)[0]
    np.testing.assert_allclose(forces.ravel(), least, atol=1e-12)


def test_what_is_not_pressed_holds_nothing(rng):
    forces = share_horizontally(rng.normal(size=(4, 2)), [2.0, 0.0, 1.0, 3.0], [1.0, 0.0], 0.2)
    np.testing.assert_array_equal(forces[1], 0)


def test_one_point_holds_a_push_through_it_and_no_moment():
    np.testing.assert_allclose(share_horizontally([[1.0, 2.0]], [5.0], [3.0, 0.0], -6.0), [[-3.0, 0.0]])
    assert share_horizontally([[1.0, 2.0]], [5.0], [3.0, 0.0], 1.0) is None
    assert share_horizontally([[1.0, 2.0], [0, 0]], [0.0, 0.0], [3.0, 0.0], 0.0) is None
    np.testing.assert_array_equal(share_horizontally([[1.0, 2.0]], [0.0], [0.0, 0.0], 0.0), [[0.0, 0.0]])
