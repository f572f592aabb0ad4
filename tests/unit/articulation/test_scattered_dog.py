"""The dog's column from scattered elements (tests/scattered_dog.py has the measure), held against what was wanted.

Wanted were, with true gaps, .3 mm and 1° a joint (median) and 2 % of the length over 13 joints; with one nominal gap
12 %.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.scattered_dog import (
    LAST,
    TRIALS,
    TRUNK,
    Scattered,
    mark_badly,
    mate_all,
    measure_chains,
    measure_joints,
    scatter_dog,
)

SOME = ("C_5", "T_6", "L_3", "Ca_3")


@pytest.mark.dog
def test_some_joints_come_back_wherever_they_were_thrown(dog_folder):
    found = []
    for seed in (1, 2):
        dog = scatter_dog(dog_folder, seed, SOME)
        found.append(measure_joints(dog, mate_all(dog, None)))
    off, turned = found[0].T
    assert off.max() < 0.5e-3
    assert turned.max() < np.radians(3)
    # Where they were thrown decides nothing, but which samples are nearest to which at the end.
    np.testing.assert_allclose(found[0][:, 0], found[1][:, 0], atol=1e-4)
    np.testing.assert_allclose(found[0][:, 1], found[1][:, 1], atol=np.radians(0.4))


@pytest.fixture(scope="module")
def dog(dog_folder) -> Scattered:
    return scatter_dog(dog_folder, 1)


@pytest.fixture(scope="module")
def links(dog):
    """Every trial once."""
    return {name: mate_all(dog, *trial) for name, trial in TRIALS.items()}


@pytest.mark.dog
@pytest.mark.slow
def test_with_true_gaps_a_joint_comes_back_to_within_three_tenths_of_a_millimetre_and_a_degree(dog, links):
    for last in (TRUNK, LAST):
        off, turned = measure_joints(dog, links["true gaps"][:last]).T
        assert len(off) == last
        assert np.median(off) <= 0.3e-3
        assert np.median(turned) <= np.radians(1)


@pytest.mark.dog
@pytest.mark.slow
@pytest.mark.xfail(strict=True, reason="missed: median 3.5 % of all 18 chains; 2.0 % of the 13 of neck and trunk")
def test_with_true_gaps_chains_end_within_two_hundredths_of_their_length(dog, links):
    assert np.median(measure_chains(dog, links["true gaps"][:LAST])) <= 0.02


@pytest.mark.dog
@pytest.mark.slow
def test_what_is_told_of_chains_at_true_gaps_is_so(dog, links):
    """Above what was wanted: docs/theory-joints.md says so."""
    for last, count, told in ((TRUNK, 13, 0.02), (LAST, 18, 0.035)):
        shares = measure_chains(dog, links["true gaps"][:last])
        assert len(shares) == count
        assert np.median(shares) == pytest.approx(told, abs=0.0015)


@pytest.mark.dog
@pytest.mark.slow
def test_with_one_nominal_gap_chains_end_within_twelve_hundredths(dog, links):
    assert np.median(measure_chains(dog, links["one nominal gap"][:LAST])) <= 0.12


@pytest.mark.dog
@pytest.mark.slow
def test_pinned_at_both_ends_a_chain_is_off_by_far_less(dog, links):
    for name in TRIALS:
        free, held = (measure_chains(dog, links[name][:LAST], pinned) for pinned in (False, True))
        assert np.median(held) < 0.4 * np.median(free)
        assert held.max() < 0.05


@pytest.mark.dog
@pytest.mark.slow
def test_facets_marked_badly_cost_about_twice_as_much(dog, links):
    """A bound on what is told of it: half a millimetre and two degrees."""
    assert TRIALS["true gaps, marked badly"] == (None, mark_badly)
    off, turned = measure_joints(dog, links["true gaps, marked badly"][:LAST]).T
    assert np.median(off) <= 0.6e-3
    assert np.median(turned) <= np.radians(2.5)
