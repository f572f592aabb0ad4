"""Where labels fit: beside what they name, inside the view, none over another. Free of Blender; same in, same out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, low, right, high [px]."""

APART_PX = 3.0
"""Between two labels, on a plain screen."""

RINGS = (1.0, 2.5, 4.5, 7.0, 11.0, 16.0)
"""How far off a label may stand, in the distance that it keeps from what it names."""

STEPS = 24
"""Into so many steps the view's width and height are cut to look for room in all of it."""


def place_labels(
    anchors: Sequence[Point],
    sizes: Sequence[Point],
    free: Box,
    clear: float,
    taken: Sequence[Box] = (),
    apart: float = APART_PX,
) -> list[Box]:
    """A box for each label, in the order of the anchors: one below the other, beside all that is named.

    They stand right of the rightmost anchor, or left of the leftmost where the view ends there or something is in the
    way; higher or lower where there is no room on either side.

    anchors : of what is named; sizes : width and height
    free : what the boxes are to stay in
    clear : how far a box keeps from every anchor
    taken : boxes that are in use; apart : how far labels keep from them and from each other
    """
    if not anchors:
        return []
    widest = max(width for width, _ in sizes)
    rightmost, leftmost = max(x for x, _ in anchors) + clear, min(x for x, _ in anchors) - clear
    order = sorted(range(len(anchors)), key=lambda i: -anchors[i][1])
    tall = sum(height for _, height in sizes) + apart * (len(sizes) - 1)
    wanted = anchors[order[0]][1] + sizes[order[0]][1] / 2
    sides = [True, False] if rightmost + widest <= free[2] or leftmost - widest < free[0] else [False, True]
    step = max(height for _, height in sizes) + apart

    def stack(rightwards: bool, high: float) -> dict[int, Box]:
        high, boxes = max(min(high, free[3]), free[1] + tall), {}
        for i in order:
            width, height = sizes[i]
            left = rightmost if rightwards else leftmost - width
            left = max(min(left, free[2] - width), free[0])
            boxes[i] = (left, high - height, left + width, high)
            high -= height + apart
        return boxes

    first = stack(sides[0], wanted)
    for shift in _go_both_ways(math.ceil((free[3] - free[1]) / step)):
        for side in sides:
            boxes = stack(side, wanted + shift * step)
            if not any(_is_taken(box, [*taken, *map(_as_box, anchors)], apart) for box in boxes.values()):
                return [boxes[i] for i in range(len(anchors))]
    return [first[i] for i in range(len(anchors))]


def place_apart(
    anchors: Sequence[Point],
    sizes: Sequence[Point],
    free: Box,
    clear: float,
    taken: list[Box],
    apart: float = APART_PX,
) -> list[Box]:
    """A box for each label near its own anchor, in this order: below, right, left or above, then farther away.

    It is inside the view, and over nothing that is taken where there is room for that anywhere in the view; where there
    is none, over as little as can be.

    taken : boxes that are in use; gets those of the labels
    """
    placed, named = [], [_as_box(at) for at in anchors]
    for at, size in zip(anchors, sizes, strict=True):
        rings = [_boxes_about(*at, *size, far * clear) for far in RINGS]
        # In each ring those first that need not be moved to be inside.
        tries = [box for ring in rings for box in (*ring, *(hold_inside(own, free) for own in ring))]
        busy = [*taken, *named]
        good = (box for box in tries if hold_inside(box, free) == box and not _is_taken(box, busy, apart))
        box = next(good, None) or _search(at, size, free, busy, apart)
        if box is None:
            inside = [hold_inside(own, free) for own in tries]
            box = min(inside, key=lambda own: sum(_measure_overlap(own, other) for other in busy))
        placed.append(box)
        taken.append(box)
    return placed


def _search(at: Point, size: Point, free: Box, busy: Sequence[Box], apart: float) -> Box | None:
    """The nearest place in the whole view where a box is over nothing; None where there is none."""
    room = (free[2] - free[0] - size[0], free[3] - free[1] - size[1])
    if min(room) < 0:
        return None
    cuts = np.linspace(0.0, 1.0, STEPS + 1)
    lows = np.stack(np.meshgrid(free[0] + room[0] * cuts, free[1] + room[1] * cuts), axis=-1).reshape(-1, 2)
    highs, others = lows + size, np.array(busy, float).reshape(-1, 4)
    over = (lows[:, None] < others[:, 2:] + apart) & (others[:, :2] < highs[:, None] + apart)
    bare = np.flatnonzero(~over.all(axis=2).any(axis=1))
    if not len(bare):
        return None
    away = np.linalg.norm((lows + highs)[bare] / 2 - at, axis=1)
    left, low = lows[bare[away.argmin()]].tolist()
    return left, low, left + size[0], low + size[1]


def _go_both_ways(count: int) -> Iterator[int]:
    """0, then 1, -1, 2, -2 …"""
    yield 0
    for i in range(1, count + 1):
        yield from (i, -i)


def _as_box(at: Point) -> Box:
    return (*at, *at)


def _boxes_about(x: float, y: float, width: float, height: float, far: float) -> list[Box]:
    corners = (
        (x - width / 2, y - far - height),
        (x + far, y - height / 2),
        (x - far - width, y - height / 2),
        (x - width / 2, y + far),
    )
    return [(left, low, left + width, low + height) for left, low in corners]


def hold_inside(box: Box, free: Box) -> Box:
    """A box moved into the view; itself where it is there."""
    width, height = box[2] - box[0], box[3] - box[1]
    left, low = max(min(box[0], free[2] - width), free[0]), max(min(box[1], free[3] - height), free[1])
    return box if (left, low) == box[:2] else (left, low, left + width, low + height)


def _is_taken(box: Box, taken: Sequence[Box], apart: float) -> bool:
    return any(
        box[0] < other[2] + apart
        and other[0] < box[2] + apart
        and box[1] < other[3] + apart
        and other[1] < box[3] + apart
        for other in taken
    )


def _measure_overlap(box: Box, other: Box) -> float:
    wide = min(box[2], other[2]) - max(box[0], other[0])
    tall = min(box[3], other[3]) - max(box[1], other[1])
    return max(wide, 0.0) * max(tall, 0.0)


def group_anchors(anchors: Sequence[Point], near: float) -> list[list[int]]:
    """The anchors in groups, each within `near` of another of its group [px]: what lies apart is labelled apart.

    No group is wider or taller than twice that, so that no label stands far from what it names.
    """
    left, groups = list(range(len(anchors))), []
    while left:
        group = [left.pop(0)]
        for i in group:
            for j in [j for j in left if math.dist(anchors[i], anchors[j]) <= near]:
                if max(_measure_span([anchors[k] for k in (*group, j)])) <= 2 * near:
                    left.remove(j)
                    group.append(j)
        groups.append(sorted(group))
    return groups


def _measure_span(points: Sequence[Point]) -> Point:
    return max(x for x, _ in points) - min(x for x, _ in points), max(y for _, y in points) - min(y for _, y in points)
