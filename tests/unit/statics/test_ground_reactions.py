"""What the ground does under any wrench, on uneven ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from core_calcs.statics.contacts import Contacts
from core_calcs.statics.ground_reactions import press_contacts, solve_contacts, solve_reactions
from core_calcs.statics.supports import list_supports


def make_contacts(rng, uneven):
    foot = np.repeat(np.arange(4), 3)
    middle = np.array([[1, 1], [1, -1], [-1, 1], [-1, -1.0]])[foot]
    plan = middle + rng.normal(size=(12, 2)) * 0.1
    ground = rng.normal(size=4)[foot] * uneven
    points = np.column_stack([plan, ground + rng.uniform(-0.002, 0.002, 12)])
    return Contacts(points, foot, foot, ground)


def make_wrench(rng, weight=1000.0):
    """A weight near the middle with a push, a twist and a moment."""
    force = np.array([*rng.normal(size=2) * 60, -weight])
    moment = rng.normal(size=3) * 100
    return np.array([*force, *moment])


@pytest.mark.parametrize("uneven", [0.0, 0.2])
def test_every_wrench_is_balanced(rng, uneven):
    about = np.array([0.05, -0.1, 1.5])
    for _ in range(50):
        contacts, applied = make_contacts(rng, uneven), make_wrench(rng)
        supports = replace(list_supports("abcd"), stiffness=rng.uniform(1, 5, 4))
        found = solve_reactions(contacts, supports, applied, about)
        assert found is not None
        assert (found.forces_N >= 0).all()
        forces = np.column_stack([found.horizontal_N, found.forces_N])
        arms = contacts.on_ground_m - about
        np.testing.assert_allclose(forces.sum(axis=0) + applied[:3], 0, atol=1e-9)
        np.testing.assert_allclose(np.cross(arms, forces).sum(axis=0) + applied[3:], 0, atol=1e-9)


def test_range_of_every_foot_is_that_of_linear_programming(rng):
    """On level ground the upward forces are free of the horizontal ones: least and greatest share of each foot."""
    about = np.array([0.0, 0.0, 1.5])
    for _ in range(20):
        contacts, applied = make_contacts(rng, 0.0), make_wrench(rng)
        found = solve_reactions(contacts, list_supports("abcd"), applied, about)
        assert found is not None
        arms = contacts.on_ground_m - about
        # Moments of upward forces about x and y, with those of the push at the ground.
        push = -applied[:2]
        x, y = arms[:, 0], arms[:, 1]
        load = [-applied[2], -applied[3] + arms[0, 2] * push[1], -applied[4] - arms[0, 2] * push[0]]
        rows = np.stack([np.ones(12), y, -x])
        for f in range(4):
            own = (contacts.foot == f).astype(float)
            shares = (found.vertices_N * own[found.corners]).sum(axis=1)
            least, most = (sign * linprog(sign * own, A_eq=rows, b_eq=load).fun for sign in (1, -1))
            assert shares.min() == pytest.approx(least, abs=1e-6)
            assert shares.max() == pytest.approx(most, abs=1e-6)
            assert least - 1e-9 <= own @ found.forces_N <= most + 1e-9


def test_uplift_is_released_and_anchors_hold_it():
    """A push that takes the centre of pressure beyond the feet: nothing carries it; anchors at the back do."""
    foot = np.arange(4)
    points = np.array([[1, 1, 0], [1, -1, 0], [-1, 1, 0], [-1, -1, 0]], float)
    contacts = Contacts(points, foot, foot, np.zeros(4))
    about, applied = np.array([0, 0, 2.0]), np.array([60.0, 0, -100, 0, 0, 0])
    free = list_supports("abcd")
    assert solve_reactions(contacts, free, applied, about) is None
    found = solve_reactions(contacts, replace(free, anchored=np.array([False, False, True, True])), applied, about)
    # About the edge x = 1: 60 · 2 - 100 · 1 = 20 N·m, held by two anchors 2 m away.
    np.testing.assert_allclose(found.forces_N, [55, 55, -5, -5], atol=1e-9)
    assert not found.determinate
    # Feet in the air resist no push.
    np.testing.assert_allclose(found.horizontal_N, [[-30, 0], [-30, 0], [0, 0], [0, 0]], atol=1e-9)


def test_a_push_that_lifts_two_feet_leaves_them_without_force():
    foot = np.arange(4)
    points = np.array([[1, 1, 0], [1, -1, 0], [-1, 1, 0], [-1, -1, 0]], float)
    contacts = Contacts(points, foot, foot, np.zeros(4))
    found = solve_reactions(contacts, list_supports("abcd"), np.array([50.0, 0, -100, 0, 0, 0]), np.array([0, 0, 2.0]))
    np.testing.assert_allclose(found.forces_N, [50, 50, 0, 0], atol=1e-9)


def test_nothing_presses():
    contacts = make_contacts(np.random.default_rng(1), 0.0)
    assert solve_reactions(contacts, list_supports("abcd"), np.array([0, 0, 5.0, 0, 0, 0]), np.zeros(3)) is None
    empty = Contacts(np.zeros((0, 3)), np.zeros(0, int), np.zeros(0, int), np.zeros(0))
    assert solve_reactions(empty, list_supports("abcd"), np.array([0, 0, -5.0, 0, 0, 0]), np.zeros(3)) is None


@pytest.mark.parametrize("anchored", [False, True])
@pytest.mark.parametrize("uneven", [0.0, 0.2])
def test_many_wrenches_at_once_are_as_one_after_the_other(rng, uneven, anchored):
    about, lifted, none = np.array([0.05, -0.1, 1.5]), 0, 0
    for _ in range(20):
        contacts = make_contacts(rng, uneven)
        supports = replace(list_supports("abcd"), stiffness=rng.uniform(1, 5, 4), anchored=np.full(4, anchored))
        wrenches = np.stack([make_wrench(rng) * (1, 1, 1, 8, 8, 1) for _ in range(6)])
        wrenches[5, 2] = 20.0  # it presses on nothing
        found = press_contacts(contacts, supports, wrenches, about)
        for own, applied in zip(found, wrenches, strict=True):
            alone = solve_contacts(contacts, supports, applied, about)
            assert (own is None) == (alone is None)
            none += own is None
            if own is not None:
                np.testing.assert_allclose(own, alone[0], atol=1e-12 * 1000)
                lifted += (own == 0).any()
    assert none >= 20
    assert anchored or lifted > 20


def test_many_wrenches_on_no_contact_press_nothing():
    none = Contacts(np.zeros((0, 3)), np.zeros(0, int), np.zeros(0, int), np.zeros(0))
    assert press_contacts(none, list_supports("a"), np.tile([0, 0, -1.0, 0, 0, 0], (2, 1)), np.zeros(3)) == [None, None]
