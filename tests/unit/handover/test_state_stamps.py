"""Signs of states in pictures: told apart by shape, without colour as well."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from core_calcs.handover.state_marks import STATE_MARKS
from core_calcs.handover.state_stamps import stamp_state

EMPTY = np.zeros((128, 128, 4), np.float32)


def light(state: str) -> np.ndarray:
    """The sign in grey on white, as a printer without colour has it."""
    stamped = stamp_state(EMPTY, state)
    return stamped[..., :3].mean(axis=2) * stamped[..., 3] + 1 - stamped[..., 3]


def test_each_has_a_shape_of_its_own_in_grey() -> None:
    assert len(STATE_MARKS) == 4
    for one, other in combinations(STATE_MARKS, 2):
        assert np.abs(light(one) - light(other)).sum() > 60, (one, other)


@pytest.mark.parametrize("state", ["holds", "close", "fails"])
def test_its_colour_is_that_of_the_reports(state: str) -> None:
    stamped = stamp_state(EMPTY, state)
    colour = STATE_MARKS[state].colour
    wanted = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    same = np.abs(stamped[..., :3] - wanted).max(axis=2) < 0.01
    assert (same & (stamped[..., 3] > 0.99)).sum() > 80


def test_the_rest_of_the_picture_is_left_as_it_is(rng: np.random.Generator) -> None:
    picture = rng.random((128, 128, 4)).astype(np.float32)
    before = picture.copy()
    stamped = stamp_state(picture, "fails")
    np.testing.assert_array_equal(picture, before)
    np.testing.assert_array_equal(stamped[40:], before[40:])
    np.testing.assert_array_equal(stamped[:, 40:], before[:, 40:])
