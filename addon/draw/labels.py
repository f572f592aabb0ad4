"""Where labels fit: beside what they name, inside the view, none over another."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .strokes import Box

Point = tuple[float, float]

APART_PX = 3.0


def place_labels(anchors: Sequence[Point], sizes: Sequence[Point], free: Box, clear: float) -> list[Box]:
    """A box for each label, in the order of the anchors: one below the other, beside all that is named.

    They stand right of the rightmost anchor, or left of the leftmost where the view ends there.

    anchors : of what is named; sizes : width and height
    free : what the boxes are to stay in
    clear : how far a box keeps from every anchor
    """
    if not anchors:
        return []
    widest = max(width for width, _ in sizes)
    rightmost, leftmost = max(x for x, _ in anchors) + clear, min(x for x, _ in anchors) - clear
    rightwards = rightmost + widest <= free[2] or leftmost - widest < free[0]
    order = sorted(range(len(anchors)), key=lambda i: -anchors[i][1])
    high = anchors[order[0]][1] + sizes[order[0]][1] / 2
    tall = sum(height for _, height in sizes) + APART_PX * (len(sizes) - 1)
    high = max(min(high, free[3]), free[1] + tall)
    boxes: dict[int, Box] = {}
    for i in order:
        width, height = sizes[i]
        left = rightmost if rightwards else leftmost - width
        left = max(min(left, free[2] - width), free[0])
        boxes[i] = (left, high - height, left + width, high)
        high -= height + APART_PX
    return [boxes[i] for i in range(len(anchors))]


def place_apart(
    anchors: Sequence[Point], sizes: Sequence[Point], free: Box, clear: float, taken: list[Box]
) -> list[Box]:
    """A box for each label near its own anchor, in this order: below, right, left or above, then farther away.

    It is inside the view, and over nothing that is taken where there is room for that.

    taken : boxes that are in use; gets those of the labels
    """
    placed = []
    for at, size in zip(anchors, sizes, strict=True):
        rings = [_boxes_about(*at, *size, far * clear) for far in (1.0, 2.5, 4.5, 7.0, 11.0, 16.0)]
        # In each ring those first that need not be moved to be inside.
        tries = [box for ring in rings for box in (*ring, *(_hold_inside(own, free) for own in ring))]
        good = (box for box in tries if _hold_inside(box, free) == box and not _is_taken(box, [*taken, (*at, *at)]))
        placed.append(next(good, _hold_inside(tries[0], free)))
        taken.append(placed[-1])
    return placed


def _boxes_about(x: float, y: float, width: float, height: float, far: float) -> list[Box]:
    corners = (
        (x - width / 2, y - far - height),
        (x + far, y - height / 2),
        (x - far - width, y - height / 2),
        (x - width / 2, y + far),
    )
    return [(left, low, left + width, low + height) for left, low in corners]


def _hold_inside(box: Box, free: Box) -> Box:
    width, height = box[2] - box[0], box[3] - box[1]
    left, low = max(min(box[0], free[2] - width), free[0]), max(min(box[1], free[3] - height), free[1])
    return box if (left, low) == box[:2] else (left, low, left + width, low + height)


def _is_taken(box: Box, taken: Sequence[Box]) -> bool:
    return any(
        box[0] < other[2] + APART_PX
        and other[0] < box[2] + APART_PX
        and box[1] < other[3] + APART_PX
        and other[1] < box[3] + APART_PX
        for other in taken
    )


def group_anchors(anchors: Sequence[Point], near: float) -> list[list[int]]:
    """The anchors in groups, each within `near` of another of its group [px]: what lies apart is labelled apart."""
    left, groups = list(range(len(anchors))), []
    while left:
        group = [left.pop(0)]
        for i in group:
            close = [j for j in left if math.dist(anchors[i], anchors[j]) <= near]
            left = [j for j in left if j not in close]
            group += close
        groups.append(sorted(group))
    return groups
