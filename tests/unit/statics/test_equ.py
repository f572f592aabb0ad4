"""Static equilibrium with partial factors: combinations by writing out every choice."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from core_calcs.site.actions import Factors
from core_calcs.statics.equ import Action, combine_overturning, find_overturning_factors, split_weights
from core_calcs.statics.polygon import find_outline
from core_calcs.statics.sliding import find_sliding_factor
from core_calcs.statics.stability import find_axes, measure_holding

RECTANGLE = np.array([[-2, -1, 0], [2, -1, 0], [2, 1, 0], [-2, 1, 0]], float)
FACTORS = Factors()


def make_actions(rng):
    return [
        Action("wind", "wind", rng.normal(size=(6, 3)) * [9, 9, 0], rng.normal((0, 0, 2), size=(6, 3))),
        Action("visitor", "person", np.array([[0, 0, -12.0]]), np.array([[2.5, 0, 1]])),
        Action("push", "push", rng.normal(size=(4, 3)), rng.normal((0, 0, 1), size=(4, 3))),
    ]


def test_every_choice_of_ways_written_out(rng):
    for _ in range(20):
        points = rng.normal(size=(7, 3)) * [2, 2, 0.2]
        axes = find_axes(points[find_outline(points[:, :2])])
        weights, centres = rng.uniform(1, 20, 9), rng.normal((0, 0, 2), size=(9, 3))
        actions = make_actions(rng)
        sides = split_weights(axes, weights, centres)
        found = combine_overturning(axes, sides, actions, FACTORS)
        assert [c.leading for c in found] == [None, 0, 1, 2]
        own = np.array([measure_holding(axes, [0, 0, -w], c) for w, c in zip(weights, centres, strict=True)])
        holds = 0.9 * np.where(own > 0, own, 0).sum(axis=0)
        permanent = -1.1 * np.where(own < 0, own, 0).sum(axis=0)
        np.testing.assert_allclose(found[0].overturning_Nm, permanent, atol=1e-12)
        for lead in range(3):
            best = np.zeros(len(holds))
            # Every action in any of its ways or, but for the leading one's choice, not at all.
            for ways in product(*(range(-1, len(action.forces_N)) for action in actions)):
                over = np.zeros(len(holds))
                for a, way in enumerate(ways):
                    if way >= 0:
                        share = 1.5 if a == lead else 1.5 * 0.7
                        over -= share * measure_holding(axes, actions[a].forces_N[way], actions[a].points_m[way])
                best = np.maximum(best, over)
            np.testing.assert_allclose(found[lead + 1].overturning_Nm, permanent + best)
            np.testing.assert_allclose(found[lead + 1].holding_Nm, holds)


def test_the_ways_named_are_those_that_count(rng):
    axes, actions = find_axes(RECTANGLE), make_actions(rng)
    sides = split_weights(axes, [10.0], np.array([[0, 0, 1.0]]))
    for case in combine_overturning(axes, sides, actions, FACTORS)[1:]:
        for edge in range(4):
            over = 0.0
            for a, action in enumerate(actions):
                way = case.way[edge] if a == case.leading else case.accompanying[a, edge]
                if way >= 0:
                    moment = -measure_holding(axes, action.forces_N[way], action.points_m[way])[edge]
                    over += 1.5 * (1.0 if a == case.leading else 0.7) * max(moment, 0)
            assert case.overturning_Nm[edge] == pytest.approx(over)


def test_what_holds_of_an_action_counts_nothing():
    axes = find_axes(RECTANGLE)
    sides = split_weights(axes, [10.0], np.array([[0, 0, 1.0]]))
    inside = Action("visitor", "person", np.array([[0, 0, -50.0]]), np.array([[0, 0, 1.0]]))
    for case in combine_overturning(axes, sides, [inside], FACTORS):
        assert (case.utilisation == 0).all()


def test_nothing_that_holds_is_no_utilisation_of_anything():
    axes = find_axes(RECTANGLE)
    sides = split_weights(axes, [10.0], np.array([[3.0, 0, 1.0]]))
    used = combine_overturning(axes, sides, [], FACTORS)[0].utilisation
    assert np.isinf(used[1])
    np.testing.assert_array_equal(used[[0, 2, 3]], 0)


def test_factors_are_those_given():
    axes = find_axes(RECTANGLE)
    sides = split_weights(axes, [10.0, 2.0], np.array([[0, 0, 1.0], [2.5, 0, 1.0]]))
    push = Action("push", "push", np.array([[3.0, 0, 0]]), np.array([[0, 0, 2.0]]))
    case = combine_overturning(axes, sides, [push], Factors(1.35, 0.8, 1.6, 0.5))[1]
    assert case.utilisation[1] == pytest.approx((1.35 * 2 * 0.5 + 1.6 * 3 * 2) / (0.8 * 10 * 2))


def test_global_factors_count_the_outward_push_alone():
    axes = find_axes(RECTANGLE)
    sides = split_weights(axes, [100.0], np.array([[0, 0, 2.0]]))
    factors = find_overturning_factors(sides, -measure_holding(axes, [10.0, 0, 0], [0, 0, 2.0]))
    assert factors[1] == pytest.approx(100 * 2 / (10 * 2))
    assert np.isinf(factors[[0, 2, 3]]).all()


def test_sliding_factor():
    assert find_sliding_factor(100.0, [3.0, 4.0], 0.2) == pytest.approx(4.0)
    assert find_sliding_factor(100.0, [0.0, 0.0], 0.2) == np.inf
