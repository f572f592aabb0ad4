"""The dog's column from scattered elements (tests/scattered_dog.py has the measure), held against what was wanted.

Wanted were, with true gaps, .3 mm and 1° a joint (median) and 2 % of the length over 13 joints; with one nominal gap
12 %. How the true gaps are measured (`scattered_dog.read_heights`): on the animal as it stands a calliper is held along
the disc, its jaws on the rims of the two end plates at the animal's middle, once on the belly's side, once on the
back's: two heights a disc; of zygapophyses the mean gap as scanned.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.scattered_dog import (
    LAST,
    TRIALS,
    TRUNK,
    Scattered,
    Trial,
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
        found.append(measure_joints(dog, mate_all(dog, Trial())))
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
    return {name: mate_all(dog, trial) for name, trial in TRIALS.items()}


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
def test_with_true_gaps_chains_end_within_two_hundredths_of_their_length(dog, links):
    for last, count in ((TRUNK, 13), (LAST, 18)):
        shares = measure_chains(dog, links["true gaps"][:last])
        assert len(shares) == count
        assert np.median(shares) <= 0.02


@pytest.mark.dog
@pytest.mark.slow
def test_heights_misread_by_a_tenth_of_a_millimetre_cost_a_chain_up_to_a_hundredth_and_a_half(dog):
    """Eight throws, of which docs/theory-joints.md tells the range; the joints keep to what was wanted."""
    found = []
    for seed in range(1, 9):
        links = mate_all(dog, TRIALS["true gaps, misread"], seed)[:LAST]
        off, turned = measure_joints(dog, links).T
        assert np.median(off) <= 0.3e-3
        assert np.median(turned) <= np.radians(1)
        found.append(np.median(measure_chains(dog, links)))
    assert min(found) == pytest.approx(0.009, abs=0.0015)
    assert max(found) == pytest.approx(0.033, abs=0.0015)


@pytest.mark.dog
@pytest.mark.slow
def test_one_figure_a_disc_does_not_say_a_wedge(dog, links):
    """Above what was wanted, the mean of each disc's gap being true: docs/theory-joints.md says so."""
    for last, told in ((TRUNK, 0.02), (LAST, 0.035)):
        shares = measure_chains(dog, links["one true figure"][:last])
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
    assert TRIALS["true gaps, marked badly"] == Trial(hand=mark_badly)
    off, turned = measure_joints(dog, links["true gaps, marked badly"][:LAST]).T
    assert np.median(off) <= 0.6e-3
    assert np.median(turned) <= np.radians(2.5)
