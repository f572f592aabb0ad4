"""Rows of elements in space: neighbours in each other's place, elements off the row, room for missing ones."""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array
from .arrangement import Arrangement
from .finding import Finding, in_mm

LEAST_ROW = 5
SHORTER = 0.8
"""Two neighbours are exchanged where the way along the row gets this much shorter in the other order."""
DETOUR = 1.5
"""An element stands off the row where the way by it is longer than without it, by this many usual steps."""
WIDE_STEP = 1.6
"""From this many usual steps on there is room for a missing element."""
ALONG = 0.8
"""Cosine between an end's step and the step before, from which on it lies along the row."""
BEYOND = 0.2
"""And the step must exceed the usual one by this share of the element's diagonal: long ribs lie loosely."""
FAR_END = 3.5
"""An end that is this many usual steps away has rather been moved than lost its neighbours."""


def find_exchanged(arrangement: Arrangement, known: set[int]) -> tuple[list[Finding], set[int]]:
    """Neighbours in each other's place, and their numbers."""
    findings: list[Finding] = []
    found: set[int] = set()
    for row in arrangement.rows:
        sound = [i for i in row if i not in known]
        if len(sound) >= LEAST_ROW:
            findings += _find_exchanged(arrangement, sound, found)
    return findings, found


def find_off_row(arrangement: Arrangement, known: set[int]) -> dict[int, Finding]:
    """Elements off their row, by number."""
    found: dict[int, Finding] = {}
    for row in arrangement.rows:
        found |= _find_off_row(arrangement, [i for i in row if i not in known])
    return found


def find_spacing(arrangement: Arrangement, known: set[int]) -> tuple[list[Finding], set[tuple[int, int]]]:
    """Room for missing elements, where no number is missing; and between whom."""
    findings: list[Finding] = []
    where: set[tuple[int, int]] = set()
    for row in arrangement.rows:
        pieces = [arrangement.pieces[i] for i in row]
        if len(row) < LEAST_ROW:
            continue
        steps = np.linalg.norm(np.diff(_centres(arrangement, row), axis=0), axis=1)
        numbers = np.diff([piece.row.position or 0 for piece in pieces])
        for k, step in enumerate(steps):
            if numbers[k] != 1 or known & {row[k], row[k + 1]} or not _lies_along(arrangement, row, k):
                continue
            near = [m for m in range(max(0, k - 4), min(len(steps), k + 5)) if m != k and numbers[m] == 1]
            near = [m for m in near if not known & {row[m], row[m + 1]}]
            usual = float(np.median(steps[near])) if near else 0.0
            at_end = k in (0, len(steps) - 1)
            wide = step > max(WIDE_STEP * usual, usual + BEYOND * pieces[k].diagonal)
            if usual > 0 and wide and not (at_end and step > FAR_END * usual):
                room = round(step / usual) - 1
                what = (
                    f"{in_mm(step)} from {pieces[k].name} to {pieces[k + 1].name}, centre to centre, usual are "
                    f"{in_mm(usual)}: room for {room} more, although no number is missing"
                )
                remedy = "check whether one was lost and the others numbered on; if so, leave its number free"
                findings.append(Finding("gap", pieces[k + 1].name, what, remedy, (pieces[k].name,)))
                where.add((row[k], row[k + 1]))
    return findings, where


def _find_exchanged(arrangement: Arrangement, row: list[int], found: set[int]) -> list[Finding]:
    c, findings = _centres(arrangement, row), []
    longest = 2 * float(np.median(np.linalg.norm(np.diff(c, axis=0), axis=1)))
    for k in range(len(row) - 1):
        if found & {row[k], row[k + 1]}:
            continue
        before, after = c[k - 1 : k] if k else c[:0], c[k + 2 : k + 3]
        given = _measure_way(np.concatenate([before, c[k : k + 2], after]))
        other_way = np.concatenate([before, c[k + 1 : k + 2], c[k : k + 1], after])
        turned, step = _measure_way(other_way), np.linalg.norm(np.diff(other_way, axis=0), axis=1).max()
        if turned < SHORTER * given and step < longest:
            one, other = arrangement.pieces[row[k]], arrangement.pieces[row[k + 1]]
            what = (
                f"it and {other.name} stand in each other's place: the way along the row is {in_mm(given)} as "
                f"numbered, {in_mm(turned)} the other way round"
            )
            remedy = "exchange their files in the table, or their positions and names"
            findings.append(Finding("order", one.name, what, remedy, (other.name,)))
            found |= {row[k], row[k + 1]}
    return findings


def _find_off_row(arrangement: Arrangement, row: list[int]) -> dict[int, Finding]:
    found: dict[int, Finding] = {}
    while len(row) >= LEAST_ROW:
        c = _centres(arrangement, row)
        steps = np.linalg.norm(np.diff(c, axis=0), axis=1)
        around = np.linalg.norm(c[2:] - c[:-2], axis=1)
        detours = (steps[:-1] + steps[1:] - around) / float(np.median(steps))
        k = int(detours.argmax()) + 1
        if detours[k - 1] < DETOUR:
            break
        piece, (before, after) = arrangement.pieces[row[k]], (arrangement.pieces[row[m]] for m in (k - 1, k + 1))
        off = float(np.linalg.norm(c[k] - (c[k - 1] + c[k + 1]) / 2))
        what = f"stands {in_mm(off)} from the middle between {before.name} and {after.name}"
        found[row[k]] = Finding("place", piece.name, what, "bring it back to its place and export it again")
        del row[k]
    return found


def _lies_along(arrangement: Arrangement, row: tuple[int, ...], k: int) -> bool:
    """Whether a step at an end goes on as the one before; steps within a row always do."""
    if 0 < k < len(row) - 2:
        return True
    c = _centres(arrangement, row)
    one, other = (c[1] - c[0], c[2] - c[1]) if k == 0 else (c[-1] - c[-2], c[-2] - c[-3])
    return float(one @ other) > ALONG * float(np.linalg.norm(one) * np.linalg.norm(other))


def _centres(arrangement: Arrangement, row: list[int] | tuple[int, ...]) -> Array:
    return np.stack([arrangement.pieces[i].record.solid.centre_m for i in row])


def _measure_way(points: Array) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
