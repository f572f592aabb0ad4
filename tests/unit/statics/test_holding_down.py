"""Anchors and ballast: applied, they restore what was missing, and nothing less does."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.site.actions import Factors
from core_calcs.site.site import GRAVITY
from core_calcs.statics.equ import Action, combine_overturning, split_weights
from core_calcs.statics.holding_down import find_anchor_moments, find_anchor_tensions, find_ballast
from core_calcs.statics.polygon import find_outline
from core_calcs.statics.rose import spread_directions
from core_calcs.statics.stability import find_axes, measure_holding

FACTORS = Factors()
RECTANGLE = np.array([[-2, -1, 0], [2, -1, 0], [2, 1, 0], [-2, 1, 0]], float)


def make_case(rng):
    """Axes over uneven feet, weights, and a wind that may overturn them."""
    points = rng.normal(size=(6, 3)) * [2, 2, 0.2]
    feet = points[find_outline(points[:, :2])]
    axes = find_axes(feet)
    weights = rng.uniform(5, 20, 5)
    centres = points[:, :2].mean(axis=0) + rng.normal(size=(5, 2)) * 0.5
    centres = np.column_stack([centres, rng.uniform(1, 3, 5)])
    _, ways = spread_directions(8)
    force = rng.uniform(2, 30) * ways
    return axes, feet, weights, centres, [Action("wind", "wind", force, np.tile([*centres[0, :2], 3.0], (8, 1)))]


def find_missing(axes, weights, centres, actions):
    cases = combine_overturning(axes, split_weights(axes, weights, centres), actions, FACTORS)
    return np.max([case.overturning_Nm - case.holding_Nm for case in cases], axis=0)


def test_ballast_applied_uses_up_exactly_what_there_is(rng):
    applied = refused = 0
    for _ in range(100):
        axes, feet, weights, centres, actions = make_case(rng)
        missing = find_missing(axes, weights, centres, actions)
        for place in (centres.mean(axis=0), feet.mean(axis=0), feet[0]):
            (mass,) = find_ballast(axes, missing, [place], GRAVITY, FACTORS)
            if mass is None:
                # No mass there will do.
                for trial in np.geomspace(1e-3, 1e6, 40):
                    more = find_missing(axes, [*weights, trial * GRAVITY], [*centres, place], actions)
                    assert more.max() > 0
                refused += 1
                continue
            after = find_missing(axes, [*weights, mass * GRAVITY], np.array([*centres, place]), actions)
            if missing.max() > 0:
                assert after.max() == pytest.approx(0, abs=1e-9 * abs(missing).max())
                less = find_missing(axes, [*weights, 0.99 * mass * GRAVITY], np.array([*centres, place]), actions)
                assert less.max() > 0
                applied += 1
            else:
                assert mass == 0
    assert applied > 30
    assert refused > 30


def test_anchors_applied_hold_every_axis(rng):
    used = 0
    for _ in range(100):
        axes, feet, weights, centres, actions = make_case(rng)
        missing = find_missing(axes, weights, centres, actions)
        tensions = find_anchor_tensions(axes, missing, feet)
        assert (tensions >= 0).all()
        if missing.max() <= 0:
            assert not tensions.any()
            continue
        used += 1
        # Each axis by its farthest foot alone, the anchor pulling straight down there.
        arms = measure_holding(axes, [0, 0, -1.0], feet)
        held = tensions[arms.argmax(axis=0)] * arms.max(axis=0)
        assert (held >= missing - 1e-9 * abs(missing).max()).all()
        # None of them could be smaller.
        for f in np.flatnonzero(tensions):
            served = arms.argmax(axis=0) == f
            assert (tensions[f] * arms[f, served] <= missing[served] + 1e-9 * abs(missing).max()).any()
    assert used > 20


def test_anchor_by_hand():
    """12 N·m missing about x = 2: the feet at x = -2 are 4 m away."""
    axes = find_axes(RECTANGLE)
    feet = np.array([[2, 0, 0], [-2, 0, 0.0]])
    np.testing.assert_allclose(find_anchor_tensions(axes, [0, 12, 0, -5], feet), [0, 3])
    np.testing.assert_array_equal(find_anchor_tensions(axes, [0, 12, 0, 0], feet[:1]), [np.inf])


def test_anchors_share_by_their_distance_until_the_first_has_its_strength():
    axes = find_axes(RECTANGLE)
    feet = np.array([[-2, 0.5, 0], [0, -0.5, 0], [2, 0, 0.0]])
    # About x = 2, arms 4, 2 and 0: the first reaches 10 N, the second then has 5.
    assert find_anchor_moments(axes, feet, [10.0, 8.0, 0.0])[1] == pytest.approx(4 * 10 + 2 * 5)
    assert find_anchor_moments(axes, feet, [10.0, 4.0, 0.0])[1] == pytest.approx(4 * 8 + 2 * 4)
    assert find_anchor_moments(axes, feet, [0.0, 8.0, 0.0])[1] == pytest.approx(2 * 8)
    # An anchor on the very edge is not stretched.
    assert find_anchor_moments(axes, feet, [10.0, 8.0, 1.0])[1] == pytest.approx(4 * 10 + 2 * 5)
    np.testing.assert_array_equal(find_anchor_moments(axes, feet, [0.0, 0.0, 0.0]), 0)


def test_ballast_beyond_an_edge_that_misses_something_is_refused():
    axes = find_axes(RECTANGLE)
    sure = 5 / (0.9 * GRAVITY)
    assert find_ballast(axes, [-9, 5, -9, -9], [[3, 0, 0], [0, 0, 0]], GRAVITY, FACTORS) == [
        None,
        pytest.approx(sure / 2),
    ]
    # Beyond another edge it may weigh no more than that has to spare.
    assert find_ballast(axes, [-9, 5, -2.1, -9], [[-1, 2, 0]], GRAVITY, FACTORS) == pytest.approx([sure / 3])
    assert find_ballast(axes, [-9, 5, -1, -9], [[-1, 2, 0]], GRAVITY, FACTORS) == [None]
