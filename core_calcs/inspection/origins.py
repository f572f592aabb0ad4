"""Origins: what the table says of where an element comes from, against what its surface shows."""

from __future__ import annotations

import math

import numpy as np

from ..mesh.shape import Likeness, compare_shapes
from .arrangement import Arrangement
from .finding import Finding

NEAR_SHARE = 0.02
"""A mirrored element may have been worked over: its sizes and radii still agree within this share."""


def list_likenesses(arrangement: Arrangement) -> dict[tuple[int, int], Likeness]:
    """Pairs, left and right, that are exact copies or mirror images of each other, wherever they stand."""
    shapes = [piece.record.shape for piece in arrangement.pieces]
    found = {(i, j): compare_shapes(shapes[i], shapes[j]) for i, j in arrangement.pairs}
    return {pair: likeness for pair, likeness in found.items() if likeness}


def find_origins(arrangement: Arrangement, known: set[int]) -> list[Finding]:
    """Pairs whose origins cannot both be true."""
    likenesses, findings = list_likenesses(arrangement), []
    for i, j in arrangement.pairs:
        if known & {i, j}:
            continue
        one, other = arrangement.pieces[i], arrangement.pieces[j]
        said = [one.row.origin, other.row.origin]
        image = likenesses.get((i, j)) in ("mirror image", "either")
        if image and said == ["scanned", "scanned"]:
            what = f"the exact mirror image of its partner {other.name}, both said to be scanned: one is mirrored"
            remedy = "find out which was scanned, and write mirrored as the other's origin"
            findings.append(Finding("origin", one.name, what, remedy, (other.name,)))
        elif said == ["mirrored", "mirrored"]:
            what = f"it and its partner {other.name} are both said to be mirrored, each from the other"
            findings.append(
                Finding("origin", one.name, what, "write the origin of the one that was there", (other.name,))
            )
        elif "mirrored" in said and not image and _differ(arrangement, i, j) > NEAR_SHARE:
            named, partner = (one, other) if said[0] == "mirrored" else (other, one)
            what = (
                f"said to be mirrored from its partner {partner.name}, but is not its mirror image: "
                f"size and radii of inertia differ by up to {100 * math.expm1(_differ(arrangement, i, j)):.2g} %"
            )
            findings.append(Finding("origin", named.name, what, "correct its origin", (partner.name,)))
    return findings


def _differ(arrangement: Arrangement, i: int, j: int) -> float:
    one, other = (arrangement.pieces[k].record.shape for k in (i, j))
    ratios = np.array([one.size_m, *one.radii_m]) / np.array([other.size_m, *other.radii_m])
    return float(np.abs(np.log(ratios)).max())
