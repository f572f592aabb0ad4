"""Labels over the view: inside it, over nothing that is there, over no other, near what they name, always the same."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from tests.unit.addon.by_path import load

labels = load("draw/labels")

FREE = (40.0, 0.0, 1000.0, 700.0)
LEGEND = (780.0, 0.0, 1000.0, 220.0)
CLEAR = 20.0


def crowd(count: int, spread: float, seed: int) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Anchors about one place, and sizes of labels of 12 to 45 letters."""
    rng = np.random.default_rng(seed)
    middle = rng.uniform((200, 150), (700, 500))
    anchors = [tuple(map(float, point)) for point in middle + rng.uniform(-spread, spread, (count, 2))]
    return anchors, [(float(rng.integers(80, 300)), 22.0) for _ in range(count)]


def overlap(one: tuple, other: tuple) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def check(boxes: list[tuple], taken: list[tuple], anchors: list[tuple[float, float]]) -> None:
    for box in boxes:
        assert FREE[0] <= box[0]
        assert box[2] <= FREE[2]
        assert FREE[1] <= box[1]
        assert box[3] <= FREE[3]
        assert not any(overlap(box, other) for other in taken)
        assert not any(box[0] < x < box[2] and box[1] < y < box[3] for x, y in anchors)
    assert not any(overlap(one, other) for one, other in combinations(boxes, 2))


@pytest.mark.parametrize("spread", [3.0, 40.0, 200.0])
@pytest.mark.parametrize("seed", range(12))
def test_fourteen_labels_about_one_place_keep_apart(spread: float, seed: int) -> None:
    anchors, sizes = crowd(14, spread, seed)
    taken = [LEGEND]
    boxes = labels.place_apart(anchors, sizes, FREE, CLEAR, taken)
    check(boxes, [LEGEND], anchors)
    assert taken == [LEGEND, *boxes]
    assert labels.place_apart(anchors, sizes, FREE, CLEAR, [LEGEND]) == boxes


@pytest.mark.parametrize("spread", [3.0, 60.0])
@pytest.mark.parametrize("seed", range(12))
def test_a_stack_keeps_off_what_is_there(spread: float, seed: int) -> None:
    """As where the stops of a joint, the joints outside and the hits lie close together."""
    anchors, sizes = crowd(6, spread, seed)
    there = [LEGEND, (anchors[0][0] + CLEAR, anchors[0][1] - 60, anchors[0][0] + 220, anchors[0][1] + 40)]
    boxes = labels.place_labels(anchors, sizes, FREE, CLEAR, there)
    check(boxes, there, anchors)
    order = sorted(range(6), key=lambda i: -anchors[i][1])
    assert [boxes[i][1] for i in order] == sorted((boxes[i][1] for i in order), reverse=True), "leaders do not cross"


def test_a_label_alone_stands_close_by() -> None:
    ((left, low, right, high),) = labels.place_apart([(500.0, 300.0)], [(120.0, 22.0)], FREE, CLEAR, [])
    assert (left + right) / 2 == pytest.approx(500.0)
    assert high == pytest.approx(300.0 - CLEAR)
    assert high - low == 22.0


def test_where_there_is_no_room_close_by_the_nearest_in_the_whole_view_is_taken() -> None:
    wall = (40.0, 0.0, 1000.0, 560.0)
    (box,) = labels.place_apart([(500.0, 30.0)], [(120.0, 22.0)], FREE, CLEAR, [wall])
    check([box], [wall], [])
    assert box[1] < 600.0
    assert abs((box[0] + box[2]) / 2 - 500.0) < 60.0


def test_where_there_is_no_room_at_all_a_label_is_still_inside() -> None:
    (box,) = labels.place_apart([(500.0, 300.0)], [(120.0, 22.0)], FREE, CLEAR, [FREE])
    assert labels.hold_inside(box, FREE) == box


def test_gaps_grow_with_the_screen() -> None:
    anchors, sizes = [(500.0, 300.0)] * 4, [(200.0, 44.0)] * 4
    boxes = labels.place_labels(anchors, sizes, FREE, CLEAR, (), 6.0)
    assert [round(above[1] - below[3], 6) for above, below in pairwise(boxes)] == [6.0] * 3


def test_groups_are_never_wider_than_twice_what_is_near() -> None:
    """A row of joints along a neck: links that are near each other would lead to the other end of the view."""
    anchors = [(40.0 + 60.0 * i, 300.0) for i in range(15)]
    groups = labels.group_anchors(anchors, 100.0)
    assert sorted(i for group in groups for i in group) == list(range(15))
    for group in groups:
        assert anchors[group[-1]][0] - anchors[group[0]][0] <= 200.0
    assert labels.group_anchors([(0.0, 0.0), (500.0, 0.0), (30.0, 10.0)], 100.0) == [[0, 2], [1]]
