"""Vertebrae of a made-up tail that stand in each other's place: told by their sizes and shapes, with the way back."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[3] / "demo_blend"))
from strider.animal import make_vertebra_mesh, name_vertebra
from strider.column import plan_column

from core_calcs.articulation.exchanged_vertebrae import find_exchanged
from core_calcs.articulation.motions import move_rigidly
from core_calcs.articulation.partner import prepare_partner
from core_calcs.articulation.turned import CELLS_A_SIZE
from core_calcs.articulation.vertebrae import prepare_column
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.spatial.transforms import invert

FIRST, LAST = 16, 27
PLANNED = {name_vertebra(v): v for v in plan_column() if v.series == "caudal" and FIRST <= v.number <= LAST}
NAMES = list(PLANNED)
SERIES = ["caudal"] * len(NAMES)


@pytest.fixture(scope="module")
def tail():
    elements = []
    for name, vertebra in PLANNED.items():
        surface, solid = survey_body(Surface(*make_vertebra_mesh(vertebra, 4, 0.4)))
        elements.append(prepare_partner(name, surface, solid.volume_m3, solid.centre_m, cells_a_size=CELLS_A_SIZE))
    return elements


def thread(elements, i, j):
    """Two of them in each other's place, called by their places."""
    X = [PLANNED[NAMES[k]].shape.X_WV for k in (i, j)]
    mounted = list(elements)
    mounted[j] = replace(move_rigidly(elements[i], X[1] @ invert(X[0])), name=NAMES[j])
    mounted[i] = replace(move_rigidly(elements[j], X[0] @ invert(X[1])), name=NAMES[i])
    return mounted


def test_in_their_order_nothing_is_said(tail):
    assert find_exchanged(prepare_column(tail, SERIES)) == ()


@pytest.mark.parametrize(("i", "j"), [(5, 6), (4, 6), (3, 7)])
def test_two_that_are_exchanged_are_told_with_their_places(tail, i, j):
    mounted = thread(tail, i, j)
    (verdict,) = find_exchanged(prepare_column(mounted, SERIES))
    assert (verdict.fault, verdict.decision, verdict.elements) == ("exchanged", "wrong", (NAMES[i], NAMES[j]))
    for here, there in ((i, j), (j, i)):
        back = move_rigidly(mounted[here], verdict.places[NAMES[here]])
        assert np.linalg.norm(back.centre - tail[there].centre) < 0.06 * back.size


def test_those_that_are_not_to_be_judged_are_left_out(tail):
    assert find_exchanged(prepare_column(thread(tail, 5, 6), SERIES), apart_from=[5]) == ()


def test_of_two_series_none_is_held_against_the_other(tail):
    mounted = prepare_column(thread(tail, 5, 6), ["dorsal"] * 6 + ["caudal"] * 6)
    assert find_exchanged(mounted) == ()


def test_where_all_are_alike_no_order_is_told(tail):
    """Copies of one vertebra, threaded in a row: exchanged they stand as before."""
    X_WV = [PLANNED[name].shape.X_WV for name in NAMES]
    copies = [
        replace(move_rigidly(tail[0], X @ invert(X_WV[0])), name=name) for X, name in zip(X_WV, NAMES, strict=True)
    ]
    assert find_exchanged(prepare_column(copies, SERIES)) == ()
