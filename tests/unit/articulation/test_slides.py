"""The shortest slide that meets one or two demands, written out, against the library's least squares."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.contact import _shortest_slide, _slide_for_two


def find_by_least_squares(directions, demands):
    """The third demand changes nothing: it is met wherever the others are, or asks for nothing."""
    idle = np.vstack([directions, directions[:1]]), np.append(demands, demands[0] - 1.0)
    if len(demands) == 1:
        idle = np.vstack([idle[0], directions[:1]]), np.append(idle[1], demands[0] - 2.0)
    return _shortest_slide(*idle)


@pytest.mark.parametrize("count", [1, 2])
def test_it_is_what_the_library_finds(rng, count):
    alone = 0
    for _ in range(500):
        directions = rng.normal(size=(count, 3))
        directions /= np.linalg.norm(directions, axis=1, keepdims=True)
        demands = rng.uniform(-0.3, 1, count)
        demands[0] = abs(demands[0])
        found = _slide_for_two(directions, demands)
        assert found == pytest.approx(find_by_least_squares(directions, demands), abs=1e-9)
        assert (directions @ found > demands - 1e-12).all()
        alone += np.linalg.norm(np.cross(found, directions[0])) < 1e-12
    assert alone > 50


def test_against_each_other_there_is_none():
    ahead = np.array([0.0, 0.6, 0.8])
    assert _slide_for_two(np.stack([ahead, -ahead]), np.array([0.1, 0.2])) is None
    assert _slide_for_two(np.stack([ahead, np.zeros(3)]), np.array([0.1, 0.2])) is None
    assert _slide_for_two(np.zeros((1, 3)), np.array([0.1])) is None
    assert _slide_for_two(np.stack([ahead, -ahead]), np.array([0.1, -0.2])) == pytest.approx(0.1 * ahead)
