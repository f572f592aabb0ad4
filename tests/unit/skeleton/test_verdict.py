"""What an audit leaves undecided, decided by one who knows better."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.skeleton.verdict import Rating, Verdict, choose_way, list_choices
from core_calcs.spatial.errors import SkeletonError

PLACES = {side: {f"{bone}.{side}": np.eye(4) * k for k, bone in enumerate("AB", start=1)} for side in "LR"}
RATINGS = (
    Rating("exchanged on the left", 0.02, (), PLACES["L"]),
    Rating("as placed", 0.0, ()),
    Rating("exchanged on the right", -0.01, (), PLACES["R"]),
)
UNDECIDED = Verdict("exchanged", ("A.L", "B.L", "A.R", "B.R"), "undecided", RATINGS, {}, "too little to say which")


def test_every_way_that_has_a_place_may_be_chosen_and_tells_so():
    assert list_choices(UNDECIDED) == ("exchanged on the left", "exchanged on the right")
    chosen = choose_way(UNDECIDED, "exchanged on the right")
    assert (chosen.decision, chosen.elements, chosen.chosen) == ("wrong", ("A.R", "B.R"), "exchanged on the right")
    assert chosen.places is PLACES["R"]
    assert chosen.ratings == RATINGS
    assert "chosen by hand" in chosen.what
    assert UNDECIDED.what in chosen.what
    assert list_choices(chosen) == ()


@pytest.mark.parametrize("way", ["as placed", "end for end", ""])
def test_a_way_without_a_place_is_refused(way):
    with pytest.raises(SkeletonError, match="Choose one of: exchanged on the left, exchanged on the right"):
        choose_way(UNDECIDED, way)


def test_what_stands_as_placed_may_be_chosen_otherwise_and_tells_against_what():
    placed = replace(UNDECIDED, decision="as placed", what="it meets its neighbours")
    assert list_choices(placed) == ("exchanged on the left", "exchanged on the right")
    chosen = choose_way(placed, "exchanged on the left")
    assert (chosen.decision, chosen.elements, chosen.places) == ("wrong", ("A.L", "B.L"), PLACES["L"])
    assert chosen.what.endswith("chosen by hand against the audit, which finds it as placed. it meets its neighbours")


def test_what_is_found_wrong_is_not_chosen_anew():
    wrong = Verdict("turned", ("A",), "wrong", RATINGS, {}, "clear")
    assert list_choices(wrong) == ()
    with pytest.raises(SkeletonError, match="has decided: wrong"):
        choose_way(wrong, "exchanged on the left")
