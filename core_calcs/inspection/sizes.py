"""Sizes: each element against its partner, or against what its neighbours in the row let expect."""

from __future__ import annotations

import math

import numpy as np

from .arrangement import Arrangement
from .finding import Finding

PARTNER_SHARE = 0.07
"""From this difference in size on a partner is told; unevenness of bones and scans stays below."""
ROW_SHARE = 0.14
"""And this from what the neighbours in a row let expect, but no less than `ROW_SPREADS` times what is usual in it."""
ROW_SPREADS = 5.0
EVEN_SHARE = 0.05
"""Radii of inertia that differ by one factor within this share: the body is scaled; beyond it, of another shape."""
SHAPE_SHARE = 0.12
"""From this difference in proportions on a partner is told as of another shape."""
REACH = 3
"""Neighbours on each side of an element in a row that are asked."""


def find_sizes(arrangement: Arrangement, known: set[int]) -> tuple[list[Finding], set[int]]:
    """Elements larger, smaller or of another shape than expected, the explained ones apart; and their numbers."""
    findings: list[Finding] = []
    found: set[int] = set()
    for i, j in arrangement.pairs:
        told = [] if known & {i, j} else _compare_partners(arrangement, i, j)
        findings += told
        found |= {i, j} if told else set()
    for row in arrangement.rows:
        if arrangement.pieces[row[0]].row.side == "middle":
            by_number = _compare_row(arrangement, row, known)
            findings += by_number.values()
            found |= set(by_number)
    return findings, found


def expect_size(arrangement: Arrangement, i: int) -> tuple[float, str]:
    """The size that an element should have [m] and by whom; 0 where nobody tells.

    By its partner, else by its neighbours in the row: the middle one of the geometric means of those as far before as
    behind.
    """
    pieces = arrangement.pieces
    if i in arrangement.partners:
        other = pieces[arrangement.partners[i]]
        return other.record.shape.size_m, f"its partner {other.name}"
    row = next((row for row in arrangement.rows if i in row), ())
    if not row:
        return 0.0, ""
    k = row.index(i)
    near = [(row[k - m], row[k + m]) for m in range(1, REACH + 1) if k - m >= 0 and k + m < len(row)]
    if not near:
        near = [(row[m], row[m]) for m in (k - 1, k + 1) if 0 <= m < len(row)]
    sizes = [math.sqrt(pieces[a].record.shape.size_m * pieces[b].record.shape.size_m) for a, b in near]
    first, last = pieces[near[0][0]].name, pieces[near[0][1]].name
    return float(np.median(sizes)), first if first == last else f"{first} and {last}"


def _compare_partners(arrangement: Arrangement, i: int, j: int) -> list[Finding]:
    one, other = arrangement.pieces[i], arrangement.pieces[j]
    ratio = one.record.shape.size_m / other.record.shape.size_m
    spread = float(np.ptp(np.log(one.record.shape.radii_m / other.record.shape.radii_m)))
    excused = {"deformed", "sculpted", "composite"} & {one.row.origin, other.row.origin}
    if abs(math.log(ratio)) > PARTNER_SHARE and spread < EVEN_SHARE:
        what = f"{ratio:.3g} times as large as its partner {other.name}, evenly in all directions"
        remedy = "find out which of the two was scaled when it was scanned, and scan or scale it again"
        return [Finding("size", one.name, what, remedy, (other.name,))]
    if spread > SHAPE_SHARE and not excused:
        what = (
            f"of other proportions than its partner {other.name}: their radii of inertia differ by "
            f"{100 * math.expm1(spread):.0f} %, their sizes by {100 * abs(ratio - 1):.0f} %"
        )
        remedy = "check whether one is broken, deformed or another bone; if it was found like that, write its origin"
        return [Finding("shape", one.name, what, remedy, (other.name,))]
    return []


def _compare_row(arrangement: Arrangement, row: tuple[int, ...], known: set[int]) -> dict[int, Finding]:
    sound = [i for i in row if i not in known]
    if len(sound) < 2 * REACH + 1:
        return {}
    pieces = arrangement.pieces
    sizes = np.log([pieces[i].record.shape.size_m for i in sound])
    off = np.array([_depart(sizes, k) for k in range(len(sound))])
    usual = float(np.median(np.abs(off)))
    findings: dict[int, Finding] = {}
    while True:
        k = int(np.abs(off).argmax())
        if abs(off[k]) < max(ROW_SHARE, ROW_SPREADS * usual):
            return findings
        near = [pieces[sound[m]].name for m in (k - 1, k + 1) if 0 <= m < len(sound)]
        what = f"{math.exp(off[k]):.3g} times as large as {' and '.join(near)} beside it suggest"
        remedy = "compare it with the original, and scan or scale it again"
        findings[sound[k]] = Finding("size", pieces[sound[k]].name, what, remedy)
        sizes[k] -= off[k]  # its neighbours are judged by what it should be
        off = np.array([_depart(sizes, m) for m in range(len(sound))])


def _depart(sizes: np.ndarray, k: int) -> float:
    """How far a logarithm of size lies from what those around it let expect; 0 at the ends, where nothing is known."""
    near = [m for m in range(1, REACH + 1) if k - m >= 0 and k + m < len(sizes)]
    return float(sizes[k] - np.median([(sizes[k - m] + sizes[k + m]) / 2 for m in near])) if near else 0.0
