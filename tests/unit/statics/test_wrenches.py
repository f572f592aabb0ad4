"""Sums over the two sides of every cut."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.statics.wrenches import (
    find_preorder,
    make_wrenches,
    move_wrenches,
    sum_distal,
    sum_proximal,
)


def make_parents(rng, count, reach):
    return np.array([-1, *(int(rng.integers(max(0, i - reach), i)) for i in range(1, count))])


def find_branch(parents, i):
    """The branch of body i by walking up from every body."""
    own = []
    for k in range(len(parents)):
        at = k
        while at != i and at >= 0:
            at = parents[at]
        if at == i:
            own.append(k)
    return own


@pytest.mark.parametrize(("count", "reach"), [(1, 1), (30, 1), (40, 5), (40, 40)])
def test_both_sides_by_walking_the_tree(rng, count, reach):
    parents = make_parents(rng, count, reach)
    values = rng.normal(size=(count, 6))
    order, ends = find_preorder(parents)
    distal, proximal = sum_distal(parents, values), sum_proximal(order, ends, values)
    for place, i in enumerate(order):
        branch = find_branch(parents, i)
        assert sorted(order[place : ends[place]]) == branch
        np.testing.assert_allclose(distal[i], values[branch].sum(axis=0), atol=1e-12)
        np.testing.assert_allclose(proximal[i], np.delete(values, branch, axis=0).sum(axis=0), atol=1e-12)


def test_sums_leave_their_input_alone(rng):
    parents, values = make_parents(rng, 10, 3), rng.normal(size=(10, 6))
    kept = values.copy()
    sum_distal(parents, values)
    np.testing.assert_array_equal(values, kept)


def test_batch_of_values_is_summed_at_once(rng):
    parents, values = make_parents(rng, 12, 3), rng.normal(size=(12, 4, 6))
    batch = sum_distal(parents, values)
    for k in range(4):
        np.testing.assert_allclose(batch[:, k], sum_distal(parents, values[:, k]))


def test_wrench_of_a_force_moves_as_the_force_does(rng):
    force, point, here, there = rng.normal(size=(4, 3))
    wrench = make_wrenches(force, point, here)
    np.testing.assert_allclose(wrench, [*force, *np.cross(point - here, force)])
    np.testing.assert_allclose(move_wrenches(wrench, here, there), make_wrenches(force, point, there))
    many = make_wrenches(np.tile(force, (5, 1)), rng.normal(size=(5, 3)), here)
    assert move_wrenches(many, here, rng.normal(size=(5, 3))).shape == (5, 6)
