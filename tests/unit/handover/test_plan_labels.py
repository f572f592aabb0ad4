"""Labels of the plan: clear of lines and of each other, close to what they name."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.handover.figure_names import shorten_names
from core_calcs.handover.plan_labels import Label, place_labels

FRAME = np.array([[0.0, 0.0], [400.0, 300.0]])
UP = np.array([0.0, 1.0])


def label(*lines: str) -> Label:
    return Label(lines, np.zeros(2), UP)


def crosses(middle: np.ndarray, half: np.ndarray, line: np.ndarray) -> bool:
    """Whether a straight line runs through a box, by clipping it to both pairs of sides."""
    start, way = line[0] - middle, line[1] - line[0]
    enters, leaves = 0.0, 1.0
    for p, d, h in zip(start, way, half, strict=True):
        if d == 0:
            if abs(p) > h:
                return False
            continue
        ends = sorted(((-h - p) / d, (h - p) / d))
        enters, leaves = max(enters, ends[0]), min(leaves, ends[1])
    return enters < leaves


def test_with_room_a_label_stands_where_it_is_wanted() -> None:
    middle = place_labels([label("foot", "1 kN")], [np.array([200.0, 150.0])], [], FRAME)[0]
    assert middle[0] == pytest.approx(200.0)
    assert 150.0 < middle[1] < 170.0


def test_labels_keep_clear_of_lines_and_of_each_other() -> None:
    places = [np.array([200.0, 150.0]), np.array([210.0, 152.0]), np.array([190.0, 148.0])]
    lines = [np.array([[150.0, 165.0], [260.0, 160.0]]), np.array([[200.0, 150.0], [220.0, 240.0]])]
    labels = [label("left foot", "4.4 kN (1.6 to 7.1 kN)"), label("124 mm"), label("right foot", "4.4 kN")]
    found = place_labels(labels, places, lines, FRAME)
    for i, (own, middle) in enumerate(zip(labels, found, strict=True)):
        assert not any(crosses(middle, own.half_pt, line) for line in lines)
        assert np.linalg.norm(middle - places[i]) < 28 + np.linalg.norm(own.half_pt)
        for other, at in zip(labels[:i], found[:i], strict=True):
            assert (np.abs(at - middle) >= own.half_pt + other.half_pt).any()


def test_a_label_at_the_border_stays_inside() -> None:
    own = label("the farthest foot")
    middle = place_labels([own], [np.array([398.0, 299.0])], [], FRAME)[0]
    assert (middle + own.half_pt <= FRAME[1]).all()


def test_long_names_lose_their_middles_unless_they_would_look_alike() -> None:
    long, twin = "passengers of the morning lean on it", "passengers of the evening lean on it"
    assert shorten_names([long, "wind", long], 22) == {long: "passengers …lean on it", "wind": "wind"}
    assert shorten_names([long, twin], 22) == {long: long, twin: twin}
