"""Ribs and chevrons that lie against two neighbouring vertebrae, measured on the scans: they are to follow both."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array
from .candidate import Candidate, find_mirror_image

KINDS = ("rib", "chevron")
"""A rib's head sits between two centra, a chevron hangs between two; of no other bone is it looked for."""
NEAR_SHARE = 0.05
"""This share of an element's samples, those nearest to the column's line, is its near end."""
AGAINST = 0.2
"""The near end lies against a vertebra within this share of its size, the cube root of its volume."""
COMPARABLE = 0.1
"""Its distances from the two differ by less than this share. On a dog: 0.01 to 0.08 of ribs 2 to 10, 0.12 of rib 1,
0.27 and more of ribs 11 to 13, whose heads touch their own vertebra alone."""


@dataclass(frozen=True, eq=False)
class Straddling:
    """The second vertebra that a piece lies against, and the figures in words."""

    also: Candidate
    reason: str


def find_straddling(
    parents: Mapping[Candidate, Candidate | None], column: Sequence[Candidate], middle_y: float
) -> dict[Candidate, Straddling]:
    """The ribs and chevrons that lie against their parent and one of its neighbours in the column alike.

    Of a pair that does not agree in both vertebrae neither is told.
    """
    found: dict[Candidate, Straddling] = {}
    for piece, parent in parents.items():
        if piece.kind in KINDS and parent in column:
            straddling = _judge(piece, column.index(parent), column)
            if straddling is not None:
                found[piece] = straddling
    lefts = [piece for piece in parents if piece.side == "left" and piece.kind in KINDS]
    rights = [piece for piece in parents if piece.side == "right" and piece.kind in KINDS]
    for right in rights:
        left = find_mirror_image(right, lefts, middle_y)
        if left is not None and _both(left, parents, found) != _both(right, parents, found):
            found.pop(left, None)
            found.pop(right, None)
    return found


def _judge(piece: Candidate, at: int, column: Sequence[Candidate]) -> Straddling | None:
    """The neighbour of the vertebra in place `at` that the piece lies against as it does against that one."""
    near = _find_near_end(piece, column[max(0, at - 1) : at + 2])
    own = column[at]
    first = _find_distance(near, own)
    apart = {other: _find_distance(near, other) for other in (*column[max(0, at - 1) : at], *column[at + 1 : at + 2])}
    if not apart:
        return None
    other = min(apart, key=lambda vertebra: apart[vertebra])
    second, size = apart[other], min(_size(own), _size(other))
    if max(first, second) > AGAINST * size or abs(first - second) > COMPARABLE * size:
        return None
    figures = f"{_format_mm(first)} mm from {own.label} and {_format_mm(second)} mm from {other.label}"
    return Straddling(other, f"its near end lies against two, {figures}")


def _find_near_end(piece: Candidate, vertebrae: Sequence[Candidate]) -> Array:
    """(k, 3) the samples nearest to the line through the vertebrae's centres."""
    samples = piece.measured.samples_m
    centres = [vertebra.centre for vertebra in vertebrae]
    spans = list(pairwise(centres)) or [(centres[0], centres[0])]
    away = np.min([_distances_to_span(samples, start, end) for start, end in spans], axis=0)
    near: Array = samples[np.argsort(away)[: max(1, int(NEAR_SHARE * len(samples)))]]
    return near


def _distances_to_span(points: Array, start: Array, end: Array) -> Array:
    """(n,) distances of points (n, 3) from the line between two points."""
    along = end - start
    share = np.clip((points - start) @ along / max(float(along @ along), np.finfo(float).tiny), 0, 1)
    away: Array = np.linalg.norm(points - start - share[:, None] * along, axis=1)
    return away


def _find_distance(near: Array, vertebra: Candidate) -> float:
    return float(np.min(cKDTree(vertebra.measured.samples_m).query(near)[0]))


def _size(vertebra: Candidate) -> float:
    return float(np.cbrt(max(vertebra.volume, 0.0)))


def _both(
    piece: Candidate, parents: Mapping[Candidate, Candidate | None], found: Mapping[Candidate, Straddling]
) -> set[Candidate | None]:
    """The two that a piece is to follow; empty where it is to follow its parent alone."""
    return {parents[piece], found[piece].also} if piece in found else set()


def _format_mm(length_m: float) -> str:
    millimetres = 1000 * length_m
    return f"{millimetres:.0f}" if millimetres >= 10 else f"{millimetres:.1f}"
