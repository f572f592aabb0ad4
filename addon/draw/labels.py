"""Where labels fit: beside what they name, inside the view, none over another."""

from __future__ import annotations

import math
from collections.abc import Sequence

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, low, right, high [px]."""

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
