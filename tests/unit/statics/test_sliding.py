"""Sliding: combinations by writing out every choice, friction against push and turn."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from core_calcs.site.actions import Factors
from core_calcs.statics.equ import Action
from core_calcs.statics.sliding import combine_pushes, find_needed_friction, find_sliding_factor, measure_lever

FACTORS = Factors()


def make_actions(rng):
    sizes = [(5, [9, 9, 2]), (1, [0, 0, 8]), (4, [4, 4, 4])]
    return [
        Action(f"action {i}", "push", rng.normal(size=(n, 3)) * s, rng.normal(size=(n, 3)))
        for i, (n, s) in enumerate(sizes)
    ]


def list_choices(actions, lead):
    """Push and what is pressed by, of every choice of every action's ways, none included."""
    for ways in product(*(range(-1, len(action.forces_N)) for action in actions)):
        force = np.zeros(3)
        for a, way in enumerate(ways):
            if way >= 0:
                force = force + (1.5 if a == lead else 1.5 * 0.7) * actions[a].forces_N[way]
        yield np.hypot(*force[:2]), 0.9 * 200 - force[2]


def test_every_choice_of_ways_written_out(rng):
    exact = 0
    for _ in range(30):
        actions = make_actions(rng)
        found = combine_pushes(200.0, actions, FACTORS)
        assert found[0].leading is None
        assert not found[0].push_N.any()
        for lead in range(3):
            push, press = np.array(list(list_choices(actions, lead))).T
            most = (push / press).max()
            case = found[lead + 1]
            got = np.hypot(*case.push_N) / case.press_N
            assert got <= most * (1 + 1e-12)
            assert got >= 0.995 * most
            exact += got >= most * (1 - 1e-9)
            forces = [
                s * actions[a].forces_N[w]
                for a, (w, s) in enumerate(zip(case.ways, case.shares, strict=True))
                if w >= 0
            ]
            np.testing.assert_allclose(np.sum(forces, axis=0)[:2], case.push_N)
            assert case.press_N == pytest.approx(180 - np.sum(forces, axis=0)[2])
    assert exact > 80


def test_what_only_presses_does_not_act():
    person = Action("visitor", "person", np.array([[0, 0, -50.0]]), np.zeros((1, 3)))
    wind = Action("wind", "wind", np.array([[6.0, 0, 0], [0, 6.0, 0]]), np.zeros((2, 3)))
    cases = combine_pushes(100.0, [person, wind], FACTORS)
    assert [case.ways[0] for case in cases] == [-1, -1, -1]
    # The person leads, the wind accompanies.
    assert np.hypot(*cases[1].push_N) == pytest.approx(1.5 * 0.7 * 6)
    assert np.hypot(*cases[2].push_N) == pytest.approx(1.5 * 6)
    assert cases[2].press_N == pytest.approx(90)


def test_pushes_across_each_other_add_up():
    east = Action("east", "push", np.array([[1.0, 0, 0]]), np.zeros((1, 3)))
    north = Action("north", "push", np.array([[0, 1.0, 0]]), np.zeros((1, 3)))
    cases = combine_pushes(100.0, [east, north], Factors(accompanying=1.0))
    assert np.hypot(*cases[1].push_N) == pytest.approx(1.5 * np.sqrt(2))


def test_nothing_pushes():
    assert len(combine_pushes(100.0, [], FACTORS)) == 1
    person = Action("visitor", "person", np.array([[0, 0, -50.0]]), np.zeros((1, 3)))
    assert not combine_pushes(100.0, [person], FACTORS)[1].push_N.any()


def test_friction_needed_by_hand():
    assert find_needed_friction([3, 4], 0.0, 50.0, 0.0, FACTORS) == pytest.approx(0.1)
    assert find_needed_friction([3, 4], 0.0, 50.0, 0.0, Factors(resistance=1.25)) == pytest.approx(0.125)
    # A moment of 10 N·m at a lever of 2 m is worth 5 N more.
    assert find_needed_friction([3, 4], -10.0, 50.0, 2.0, FACTORS) == pytest.approx(0.2)
    assert find_needed_friction([0, 0], 0.0, 0.0, 0.0, FACTORS) == 0
    assert find_needed_friction([1, 0], 0.0, 0.0, 0.0, FACTORS) == np.inf
    assert find_needed_friction([1, 0], 1.0, 5.0, 0.0, FACTORS) == np.inf


def test_what_friction_is_said_to_hold_it_holds(rng):
    """A distribution within friction at every point, found by linear programming over each point's friction circle
    (cut to an inscribed 32-gon), balances the push and the turn at the coefficient named, enlarged for the polygon."""
    from scipy.optimize import linprog

    angles = np.arange(32) * np.pi / 16
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    for _ in range(25):
        points, presses = rng.normal(size=(6, 2)), rng.uniform(0.5, 3, 6)
        push, turn = rng.normal(size=2), rng.normal() * 2
        centre, lever = measure_lever(points, presses)
        friction = find_needed_friction(push, turn, presses.sum(), lever, FACTORS) / np.cos(np.pi / 32)
        # Each point's force is a mix of the polygon's corners.
        arm = points - centre
        columns = np.repeat(presses, 32) * friction
        across = (arm[:, None, 0] * ways[None, :, 1] - arm[:, None, 1] * ways[None, :, 0]).ravel()
        rows = np.stack([columns * np.tile(ways[:, 0], 6), columns * np.tile(ways[:, 1], 6), columns * across])
        whole = np.kron(np.eye(6), np.ones(32))
        done = linprog(np.zeros(192), A_eq=rows, b_eq=[-push[0], -push[1], -turn], A_ub=whole, b_ub=np.ones(6))
        assert done.status == 0


def test_sliding_factor():
    assert find_sliding_factor(100.0, [3.0, 4.0], 0.2) == pytest.approx(4.0)
    assert find_sliding_factor(100.0, [0.0, 0.0], 0.2) == np.inf
