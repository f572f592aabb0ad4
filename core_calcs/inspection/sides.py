"""Left and right: pairs on each other's side, one side's bone used on both, pairs exchanged without turning them."""

from __future__ import annotations

from pathlib import PurePosixPath

import numpy as np
from scipy.spatial import cKDTree

from ..mesh.shape import compare_shapes
from ..skeleton.bone_names import read_bone_name
from ..spatial.transforms import Array
from .arrangement import Arrangement
from .clouds import measure_difference, measure_gap
from .finding import Finding, in_mm

CLEARLY = 0.05
"""A pair is on the wrong sides where left lies right of right by this share of its diagonal."""
ACROSS = 0.25
"""An element without partner, where its middle lies beyond the mid-plane by this share."""
LIKER = 0.5
"""A bone is the partner's copy rather than its mirror image where it differs from that by this share."""
DIFFERS = 0.02
"""And by at least this share of its diagonal less."""
FITS_BETTER = 0.6
"""A pair is exchanged where its gaps to all neighbours, the other way round, sum up to less than this share of them."""
CLOSER = 0.1
"""And by at least this share of its diagonal less."""


def find_swapped(arrangement: Arrangement, known: set[int]) -> tuple[list[Finding], set[int]]:
    """Pairs that stand on each other's side, and single elements beyond the mid-plane; and their numbers."""
    pieces, findings, found = arrangement.pieces, [], set()
    pairs = [pair for pair in arrangement.pairs if not known & set(pair)]
    wrong = [(i, j) for i, j in pairs if _across(arrangement, i, j) < -CLEARLY]
    if len(pairs) > 3 and len(wrong) > len(pairs) / 2:
        i, j = wrong[0]
        what = f"left lies on the right in {len(wrong)} of {len(pairs)} pairs, e.g. {pieces[i].name}"
        remedy = "y must point to the animal's left: turn the scans, or, if they are mirrored, mirror them back"
        return [Finding("side", pieces[i].name, what, remedy, (pieces[j].name,))], {i for pair in wrong for i in pair}
    for i, j in wrong:
        off = np.linalg.norm(pieces[i].middle - arrangement.mirror(pieces[j].middle))
        if off > max(pieces[i].diagonal, pieces[j].diagonal):
            continue  # only one of them is away: a matter of place
        beyond = arrangement.middle_y - float(pieces[i].middle[1])
        what = f"stands {in_mm(beyond)} to the right of the mid-plane, and its partner {pieces[j].name} on the left"
        remedy = "exchange their files in the table, or their sides and names"
        findings.append(Finding("side", pieces[i].name, what, remedy, (pieces[j].name,)))
        found |= {i, j}
    for i, piece in enumerate(pieces):
        if piece.row.side != "middle" and i not in arrangement.partners and i not in known:
            sense = 1 if piece.row.side == "left" else -1
            beyond = sense * (arrangement.middle_y - piece.middle[1])
            if beyond > ACROSS * piece.diagonal:
                what = f"said to be of the {piece.row.side} side, but stands {in_mm(beyond)} beyond the mid-plane"
                findings.append(Finding("side", piece.name, what, "correct its side, or its place"))
                found.add(i)
    return findings, found


def find_misnamed(arrangement: Arrangement) -> list[Finding]:
    """Elements whose file is named for the other side than the table says."""
    findings = []
    for piece in arrangement.pieces:
        named = read_bone_name(PurePosixPath(piece.row.file).stem).side if piece.row.body is None else None
        if {named, piece.row.side} == {"left", "right"}:
            what = f"its file {piece.row.file} is named for the {named} side, the table says {piece.row.side}"
            remedy = "find out which is true; two files whose names were exchanged are told twice"
            findings.append(Finding("side", piece.name, what, remedy))
    return findings


def find_used_twice(arrangement: Arrangement, known: set[int]) -> tuple[list[Finding], set[int]]:
    """Pairs of which one is a copy of the other, or much more alike to it than to its mirror image."""
    findings, found = [], set()
    for i, j in arrangement.pairs:
        if known & {i, j}:
            continue
        one, other = arrangement.pieces[i], arrangement.pieces[j]
        likeness = compare_shapes(one.record.shape, other.record.shape)
        if likeness == "mirror image":
            continue
        same, mirrored = _differ(arrangement, i, j, False), _differ(arrangement, i, j, True)
        if likeness == "copy" or (same < LIKER * mirrored and mirrored - same > DIFFERS * one.diagonal):
            told = "the same surface as" if likeness else f"{in_mm(same)} on average from"
            what = f"{told} its partner {other.name} moved across, {in_mm(mirrored)} from its mirror image"
            remedy = (
                "one bone stands on both sides: find out to which it belongs; mirror it for the other, or leave it out"
            )
            findings.append(Finding("side", one.name, what, remedy, (other.name,)))
            found |= {i, j}
    return findings, found


def find_exchanged_pairs(arrangement: Arrangement, known: set[int]) -> list[Finding]:
    """Pairs that would fit their neighbours better if each stood in the other's place, moved across and not turned."""
    findings = []
    for i, j in arrangement.pairs:
        if known & {i, j}:
            continue
        one, other = arrangement.pieces[i], arrangement.pieces[j]
        away = other.middle - one.middle
        now = _sum_gaps(arrangement, i, one.record.samples_m, known)
        now += _sum_gaps(arrangement, j, other.record.samples_m, known)
        turned = _sum_gaps(arrangement, i, other.record.samples_m - away, known)
        turned += _sum_gaps(arrangement, j, one.record.samples_m + away, known)
        if turned < FITS_BETTER * now and now - turned > CLOSER * (one.diagonal + other.diagonal):
            what = (
                f"it and its partner {other.name} fit better in each other's place: gaps to their neighbours sum up to "
                f"{in_mm(now)}, the other way round to {in_mm(turned)}"
            )
            remedy = "exchange them where they were mounted, and export them again"
            findings.append(Finding("side", one.name, what, remedy, (other.name,)))
    return findings


def _across(arrangement: Arrangement, i: int, j: int) -> float:
    """How far left lies left of right, in diagonals."""
    one, other = arrangement.pieces[i], arrangement.pieces[j]
    return float(one.middle[1] - other.middle[1]) / max(one.diagonal, other.diagonal)


def _differ(arrangement: Arrangement, i: int, j: int, mirrored: bool) -> float:
    """Mean distance of two surfaces laid upon each other at their means [m], the other mirrored or as it is."""
    one, other = (arrangement.pieces[k].record.samples_m for k in (i, j))
    there = arrangement.mirror(other) if mirrored else other
    there = there + one.mean(axis=0) - there.mean(axis=0)
    return measure_difference(one, arrangement.pieces[i].tree, there, cKDTree(there))


def _sum_gaps(arrangement: Arrangement, i: int, points: Array, known: set[int]) -> float:
    tree = cKDTree(points)
    return sum(measure_gap(tree, arrangement.pieces[j].tree) for j in arrangement.neighbours[i] if j not in known)
