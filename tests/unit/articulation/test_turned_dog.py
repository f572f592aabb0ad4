"""The dog's vertebrae, each turned by half about three axes and mated again: what the audit says of them.

The measure is in tests/turned_column.py. The thresholds were set on made-up animals, not on the dog.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from core_calcs.articulation.exchanged_vertebrae import find_exchanged
from core_calcs.articulation.motions import move_rigidly
from core_calcs.articulation.turned import AS_PLACED, TURNS, find_turned, judge_column
from core_calcs.articulation.vertebrae import prepare_column
from core_calcs.spatial.transforms import invert
from tests.turned_column import jitter, read_dog, try_turned

WAYS = [way for way in TURNS if way != AS_PLACED]
SEEDS = (1, 2, 3)
DECIDED, ALARMS = 0.85, 0.05


@pytest.fixture(scope="module")
def column(dog_folder):
    return read_dog(dog_folder)


@pytest.fixture(scope="module")
def audited(column) -> range:
    """Numbers of C3 to Ca5, the sacrum among them."""
    return range(column.index("C_3"), column.index("Ca_5") + 1)


@pytest.mark.dog
@pytest.mark.slow
@pytest.mark.parametrize(("name", "way"), [("C_5", "end for end"), ("L_3", "upside down")])
def test_one_that_is_turned_is_found(column, name, way):
    case = try_turned(column, (column.index(name), way, False))
    assert (case.outcome, case.blamed) == ("right", ())


@pytest.mark.dog
@pytest.mark.slow
def test_of_every_ninth_that_is_turned_none_is_judged_wrongly(column, audited):
    """What `make trials` asks of all."""
    every = [(i, way) for i in audited for way in WAYS]
    cases = [try_turned(column, (i, way, False)) for i, way in every[::9]]
    assert len(cases) == 11
    assert [(case.name, case.way) for case in cases if case.outcome == "wrong"] == []
    assert sum(case.outcome == "right" for case in cases) >= DECIDED * len(cases)
    assert [(case.name, case.way, case.blamed) for case in cases if case.blamed] == []


@pytest.mark.dog
@pytest.mark.trial
@pytest.mark.parametrize("seated", [False, True])
def test_of_those_turned_none_is_judged_wrongly_and_most_are_decided(column, audited, seated):
    """As it was turned, slid along the column; and moved on to where it fits best that way."""
    cases = [try_turned(column, (i, way, seated)) for i in audited for way in WAYS]
    assert len(cases) == 31 * len(WAYS)
    assert [(case.name, case.way) for case in cases if case.outcome == "wrong"] == []
    assert sum(case.outcome == "right" for case in cases) >= DECIDED * len(cases)
    assert [(case.name, case.way, case.blamed) for case in cases if case.blamed] == []


@pytest.mark.dog
@pytest.mark.slow
def test_as_placed_nothing_is_blamed(column):
    """C1 to Ca20."""
    found, right = judge_column(prepare_column(column.elements, column.series))
    assert [verdict.elements for verdict in found if verdict.decision == "wrong"] == []
    assert find_exchanged(right) == ()


@pytest.mark.dog
@pytest.mark.slow
@pytest.mark.parametrize(("one", "other"), [("T_9", "T_10"), ("T_3", "T_7")])
def test_two_in_each_others_place_are_told(column, one, other):
    """Each by its centrum in the other's place, called by the place."""
    i, j = column.index(one), column.index(other)
    X_WV = {k: own.shape.X_WV for k, own in enumerate(prepare_column(column.elements, column.series))}
    mounted = list(column.elements)
    for here, there in ((i, j), (j, i)):
        moved = move_rigidly(column.elements[here], X_WV[there] @ invert(X_WV[here]))
        mounted[there] = replace(moved, name=column.elements[there].name)
    (verdict,) = find_exchanged(prepare_column(mounted, column.series))
    assert verdict.elements == (one, other)


@pytest.mark.dog
@pytest.mark.trial
def test_of_those_jittered_hardly_any_is_blamed(column, audited):
    """Every one turned by 3° about an axis of chance, three times."""
    blamed = [
        (seed, verdict.elements)
        for seed in SEEDS
        for verdict in find_turned(*vars(jitter(column, seed)).values(), chosen=audited)
        if verdict.decision == "wrong"
    ]
    assert len(blamed) <= ALARMS * len(SEEDS) * len(audited), blamed
