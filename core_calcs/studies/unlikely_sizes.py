"""Elements of a skeleton that are far too large or small beside their like: most often one file is in another unit."""

from __future__ import annotations

import math
from collections import defaultdict

import numpy as np

from ..mesh.reading import UNITS_M
from ..skeleton.element import Element
from ..skeleton.element_names import name_kind, name_partner
from ..skeleton.tree import Skeleton

FAR = 5.0
"""From so many times the size of its like on an element is told. At most 1.44 was seen in a dog, 1.29 in the demo's
animal, 1.06 in a human."""
NEAR = 2.0
"""A unit explains it where it brings the size so near to that of its like."""
CLEAR = 3.0
"""Of two alone one is named where it is so many times farther from what it is joined to; else it may be either."""
REACH = 3
"""Neighbours on each side in its series that are asked."""


def list_unlikely(skeleton: Skeleton) -> tuple[str, ...]:
    """Plain sentences on elements whose boxes' diagonals are far from those of partner and neighbours in the series.

    Of two or three alone, the one is told that is farther from what it is joined to.
    """
    sizes = {own.name: _measure(own) for own in skeleton.elements}
    like, joined = _list_like(skeleton, sizes), _list_joined(skeleton)
    told = []
    for element in skeleton.elements:
        name = element.name
        peers = [peer for peer in like[name] if sizes[peer] > 0]
        if not peers or not sizes[name] > 0:
            continue
        expected = float(np.exp(np.median(np.log([sizes[peer] for peer in peers]))))
        if abs(math.log(sizes[name] / expected)) < math.log(FAR):
            continue
        own = _depart(name, joined[name], sizes)
        rivals = [_depart(peer, joined[peer], sizes) for peer in peers] if len(peers) < REACH else []
        if rivals and max(rivals) > own:
            continue
        clear = not rivals or own - max(rivals) > math.log(CLEAR)
        told.append(_tell(element, sizes[name], expected, peers, clear))
    return tuple(told)


def _measure(element: Element) -> float:
    """Diagonal of its box [m]."""
    return float(np.linalg.norm(np.asarray(element.solid.upper_m) - np.asarray(element.solid.lower_m)))


def _list_like(skeleton: Skeleton, sizes: dict[str, float]) -> dict[str, list[str]]:
    """By element its partner, and those next to it in its series."""
    rows: dict[tuple[str, str, str], list[Element]] = defaultdict(list)
    for element in skeleton.elements:
        if element.position is not None:
            rows[element.series, element.side, name_kind(element.name)].append(element)
    like = {
        element.name: [partner] if (partner := name_partner(element.name)) in sizes and partner != element.name else []
        for element in skeleton.elements
    }
    for row in rows.values():
        row.sort(key=lambda own: own.position or 0)
        for k, element in enumerate(row):
            like[element.name] += [own.name for own in (*row[max(0, k - REACH) : k], *row[k + 1 : k + 1 + REACH])]
    return like


def _list_joined(skeleton: Skeleton) -> dict[str, list[str]]:
    joined: dict[str, list[str]] = defaultdict(list)
    for joint in skeleton.joints:
        joined[joint.child].append(joint.parent)
        joined[joint.parent].append(joint.child)
    return joined


def _depart(name: str, joined: list[str], sizes: dict[str, float]) -> float:
    """By how much the logarithm of its size is away from that of what it is joined to."""
    near = [sizes[other] for other in joined if sizes[other] > 0]
    return abs(math.log(sizes[name]) - float(np.median(np.log(near)))) if near and sizes[name] > 0 else 0.0


def _tell(element: Element, size: float, expected: float, peers: list[str], clear: bool) -> str:
    given = element.source.unit_m
    unit = min(UNITS_M, key=lambda own: abs(math.log(size * UNITS_M[own] / given / expected)))
    fits = abs(math.log(size * UNITS_M[unit] / given / expected)) < math.log(NEAR)
    ratio, beside = f"{size / expected:.2g}", " and ".join(peers[:2])
    if not clear:
        return (
            f"{element.name}: {ratio} times as large as {beside}: the file of one of them seems to be in another "
            "unit. Compare both with the originals."
        )
    if fits and UNITS_M[unit] != given:
        return (
            f"{element.name}: {ratio} times as large as {beside}: its file {element.source.file} seems to be in "
            f"{unit}. Set its unit in the table."
        )
    return (
        f"{element.name}: {ratio} times as large as {beside}: its file {element.source.file} seems to be in another "
        "unit or to another scale. Scale it to its size, or set its unit in the table."
    )
