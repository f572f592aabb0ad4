"""Units: an element whose file is in another unit than the table says is too large or small by a known factor."""

from __future__ import annotations

import math

import numpy as np
from scipy.spatial import cKDTree

from ..mesh.reading import UNITS_M
from .arrangement import Arrangement
from .clouds import measure_gap
from .finding import UNIT_WORDS, Finding, in_mm
from .sizes import expect_size

SIZE_SHARE = 0.2
"""In the right unit an element is within this share of the size expected."""
LEAST_RATIO = 1.8
"""No two units differ by less than 2.54: a smaller difference in size is not a matter of units."""
TOUCH = 0.5
"""In the right unit it lies within this share of its diagonal of what it hangs on, or as far as its partner does."""


def find_units(arrangement: Arrangement) -> tuple[list[Finding], set[int]]:
    """Elements in another unit than the table's, and their numbers."""
    findings, known = [], set()
    for i, piece in enumerate(arrangement.pieces):
        expected, by = expect_size(arrangement, i)
        size = piece.record.shape.size_m
        if expected > 0 and abs(math.log(size / expected)) < math.log(LEAST_RATIO):
            continue
        fits = measure_fit(arrangement, i, 1.0) < TOUCH
        for unit, length in UNITS_M.items():
            factor = length / UNITS_M[piece.row.unit]
            if unit == piece.row.unit or (expected > 0 and abs(math.log(size * factor / expected)) > SIZE_SHARE):
                continue
            stands = not fits and not _dwarfs(arrangement, i, factor) and measure_fit(arrangement, i, factor) < TOUCH
            if not stands and (expected == 0 or _suspects_other(arrangement, i)):
                continue
            findings.append(_tell(arrangement, i, unit, factor, expected, by, stands))
            known.add(i)
            break
    return findings, known


def _dwarfs(arrangement: Arrangement, i: int, factor: float) -> bool:
    """Whether it would be longer than all others together stand apart: it would be near to anything, wherever it is."""
    others = [piece.record.solid for j, piece in enumerate(arrangement.pieces) if j != i]
    if not others:
        return True
    lower, upper = np.min([own.lower_m for own in others], axis=0), np.max([own.upper_m for own in others], axis=0)
    return arrangement.pieces[i].diagonal * factor > float(np.linalg.norm(upper - lower))


def measure_fit(arrangement: Arrangement, i: int, factor: float) -> float:
    """How far an element, its co-ordinates times a factor, lies from its nearest neighbour in the tree, in diagonals.

    What its partner's distance is to that one's nearest neighbour is taken off. Without neighbours infinitely far.
    """
    pieces = arrangement.pieces
    scaled = cKDTree(pieces[i].record.samples_m * factor)
    gaps = [measure_gap(scaled, pieces[j].tree) for j in arrangement.neighbours[i]]
    if not gaps:
        return math.inf
    usual = 0.0
    if i in arrangement.partners:
        other = arrangement.partners[i]
        there = [measure_gap(pieces[other].tree, pieces[j].tree) for j in arrangement.neighbours[other]]
        usual = min(there, default=0.0)
    return (min(gaps) - usual) / (pieces[i].diagonal * factor)


def _suspects_other(arrangement: Arrangement, i: int) -> bool:
    """Whether it is rather the partner that does not stand where it should."""
    partner = arrangement.partners.get(i)
    if partner is None:
        return measure_fit(arrangement, i, 1.0) < TOUCH
    return measure_fit(arrangement, i, 1.0) < measure_fit(arrangement, partner, 1.0)


def _tell(
    arrangement: Arrangement, i: int, unit: str, factor: float, expected: float, by: str, stands: bool
) -> Finding:
    piece = arrangement.pieces[i]
    size = piece.record.shape.size_m
    what = f"read in {UNIT_WORDS[piece.row.unit]} it measures {in_mm(size)} (cube root of its volume)"
    if expected > 0:
        what += f", {in_mm(expected)} is expected from {by}"
    what += f"; in {UNIT_WORDS[unit]} it measures {in_mm(size * factor)}"
    what += " and stands at its place" if stands else ""
    remedy = f"if the file is in {UNIT_WORDS[unit]}, set its unit to {unit} in the table"
    return Finding("unit", piece.name, what, remedy)
