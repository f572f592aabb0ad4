"""Actions as plain forces: where they act, which ways, what they sum to."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.actions.variable import VariableAction, act_at_point, spread_directions, word_direction
from core_calcs.site.actions import PointAction

PUSH = PointAction("shove", "push", "skull", (0.1, 0.2, 0.3), 1500.0)


def test_directions_go_round_evenly_and_are_exact_at_the_quarters():
    found = spread_directions(36)
    assert found.shape == (36, 3)
    np.testing.assert_array_equal(found[[0, 9, 18, 27]], [[1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]])
    np.testing.assert_allclose(np.linalg.norm(found, axis=1), 1, atol=1e-14)
    np.testing.assert_allclose(np.degrees(np.arctan2(found[1:18, 1], found[1:18, 0])), np.arange(10, 180, 10))
    assert (found[:, 2] == 0).all()


def test_the_point_goes_with_its_element(rng):
    quarter = np.array([[0, -1, 0, 5], [1, 0, 0, 6], [0, 0, 1, 7], [0, 0, 0, 1.0]])
    found = act_at_point(PUSH, 4, quarter, 12)
    assert found.bodies.tolist() == [4]
    np.testing.assert_allclose(found.points_m, np.tile([4.8, 6.1, 7.3], (12, 1, 1)))
    np.testing.assert_allclose(np.linalg.norm(found.whole_N, axis=1), 1500)
    assert (found.whole_N[:, 2] == 0).all()
    np.testing.assert_allclose(found.line_m, found.points_m[:, 0])


def test_a_direction_given_is_the_only_way_and_does_not_turn_with_the_element():
    turned = np.array([[0, -1, 0, 0], [1, 0, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]])
    pull = PointAction("rope", "pull", "skull", (0, 0, 0), 900.0, (0.6, 0.0, -0.8))
    found = act_at_point(pull, 0, turned, 36)
    np.testing.assert_allclose(found.forces_N, [[[540, 0, -720]]])


def test_a_person_acts_straight_down():
    found = act_at_point(PointAction("climber", "person", "skull", (0, 0, 0), 2000.0), 0, np.eye(4), 36)
    np.testing.assert_array_equal(found.forces_N, [[[0, 0, -2000]]])


def test_the_line_of_parallel_forces_carries_their_moment(rng):
    directions = spread_directions(5)
    size = rng.uniform(0, 10, (5, 7))
    size[:, 3] = 0
    action = VariableAction(
        *("wind", "wind", directions, np.arange(7)),
        *(size[:, :, None] * directions[:, None], rng.normal(size=(5, 7, 3))),
    )
    np.testing.assert_allclose(
        np.cross(action.line_m, action.whole_N), np.cross(action.points_m, action.forces_N).sum(axis=1), atol=1e-12
    )
    still = VariableAction("wind", "wind", directions, np.arange(7), 0 * action.forces_N, action.points_m)
    assert np.isfinite(still.line_m).all()


@pytest.mark.parametrize(
    ("direction", "words"),
    [
        ((0, 0, -1), "down"),
        ((0, 0, 1), "up"),
        ((0, -1, 0), "horizontal, 270° from x towards y"),
        ((0.6, 0, -0.8), "(0.6, 0, -0.8)"),
    ],
)
def test_directions_in_words(direction, words):
    assert word_direction(direction) == words
