"""The dog's facets on a column disturbed as scans are laid out (tests/disturbed_column.py has the measure)."""

from __future__ import annotations

import pytest

from core_calcs.articulation.facets import find_facets
from tests.disturbed_column import (
    PAIRS,
    TAIL,
    TRIALS,
    Column,
    axes_between,
    leave,
    pull_apart,
    push_together,
    run_trial,
)

SOME = PAIRS[2::7]
"""One pair each of neck, thorax, loins and tail for the tests that run every time; all of them in `make validation`."""


@pytest.fixture(scope="module")
def column(dog_folder) -> Column:
    return Column(dog_folder)


@pytest.mark.dog
@pytest.mark.parametrize("trial", ["overlap of .05 s", "3 mm apart, closed up", "10 mm apart, closed up"])
def test_some_pairs_keep_their_facets(column, trial):
    tried = run_trial(column, trial, pairs=SOME)
    assert len(tried) == 4
    assert [pair for pair, faults in tried if faults.placed] == []


@pytest.fixture(scope="module")
def run(column):
    """Each trial on all pairs, once."""
    outcomes = {}

    def find(trial):
        if trial not in outcomes:
            outcomes[trial] = run_trial(column, trial)
        return outcomes[trial]

    return find


@pytest.mark.dog
@pytest.mark.slow
@pytest.mark.parametrize("trial", TRIALS)
def test_the_required_share_of_all_pairs_keeps_its_facets(run, trial):
    tried = run(trial)
    wrong = [(pair, faults.placed) for pair, faults in tried if faults.placed]
    assert len(wrong) <= (1 - TRIALS[trial][1]) * len(tried), wrong


@pytest.mark.dog
@pytest.mark.slow
@pytest.mark.parametrize("trial", TRIALS)
def test_the_required_share_of_all_pairs_has_its_facets_by_the_labels(run, trial):
    tried = run(trial)
    wrong = [(pair, faults.labels) for pair, faults in tried if faults.labels]
    assert len(wrong) <= (1 - TRIALS[trial][1]) * len(tried), wrong


@pytest.mark.dog
@pytest.mark.slow
@pytest.mark.parametrize("disturb", [leave, push_together, pull_apart(5, close=False), pull_apart(5)])
def test_the_tail_has_no_zygapophyses_and_none_are_made_up(column, disturb):
    """Ca6 to Ca20: every joint by its centra, nothing else, however the elements are moved along the column."""
    assert len(TAIL) == 14
    for pair in TAIL:
        headward, tailward = disturb(column, pair)
        found = find_facets(headward, tailward, axes_between(headward, tailward))
        assert [both[0].kind for both in found.pairs] == ["centrum"], pair
        assert found.confidence == "found", (pair, found.reason)
