"""Finding the vertebral column where no name tells it: by place alone.

The column is the longest chain of pieces on the mid-line that all but touch. What bears ribs is thoracic; what lies
ahead is cervical; the piece at the pelvis is the sacrum; between them lie the lumbar vertebrae, behind it the tail.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree
from scipy.spatial import cKDTree

from ..spatial.transforms import Array
from .candidate import Candidate, find_nearest

TOUCH = 0.3
"""Neighbours in the column lie within this share of the smaller one's diagonal of each other."""
RIB_REACH = 0.35
"""A rib's head lies within this share of a vertebra's diagonal from it."""
SLENDER = 0.012
"""A rib's volume is below this share of its diagonal's cube; shoulder blades and limb bones are above."""
LEAST_CHAIN = 5
BULKY = 3.0
"""Skull, jaw and pelvis are this many times larger than vertebrae."""


class Found(NamedTuple):
    """What place tells of a piece; the fields of a Candidate."""

    kind: str
    label: str
    number: int | None


def search_column(pieces: list[Candidate]) -> list[Candidate]:
    """The pieces with skull, jaw, pelvis and vertebrae named by place; as they were where no column shows itself."""
    middle = [piece for piece in pieces if piece.side == "middle" and not piece.kind]
    chain = _find_chain(middle)
    if len(chain) < LEAST_CHAIN:
        return pieces
    names = _name_head(chain)
    column = [piece for piece in chain if piece not in names]
    ribs = [piece for piece in pieces if is_rib(piece, column)]
    if len(column) < LEAST_CHAIN or not ribs:
        return pieces
    names |= _name_vertebrae(column, ribs, [piece for piece in middle if piece not in chain])
    return [replace(piece, **names[piece]._asdict()) if piece in names else piece for piece in pieces]


def is_rib(piece: Candidate, vertebrae: list[Candidate]) -> bool:
    """Whether an unnamed piece beside the mid-line is slender and reaches a vertebra."""
    if piece.side == "middle" or piece.kind or piece.volume > SLENDER * piece.diagonal**3:
        return False
    nearest, gap = find_nearest(piece, vertebrae)
    return nearest is not None and gap < RIB_REACH * nearest.diagonal and piece.diagonal > 0.5 * nearest.diagonal


def _find_chain(middle: list[Candidate]) -> list[Candidate]:
    """The longest path, from the head on, in the tree of least gaps between pieces that all but touch."""
    gaps = _measure_gaps(middle)
    tree = minimum_spanning_tree(csr_array(gaps))
    tree = tree + tree.T
    best: list[int] = []
    seen: set[int] = set()
    for start in range(len(middle)):
        if start not in seen:
            reached = breadth_first_order(tree, start, directed=False)[0]
            seen.update(reached.tolist())
            path = _trace_path(tree, int(reached[-1]))
            best = path if len(path) > len(best) else best
    if best and middle[best[0]].centre[0] < middle[best[-1]].centre[0]:
        best.reverse()
    return [middle[i] for i in best]


def _trace_path(tree: csr_array, end: int) -> list[int]:
    """The path from one end of a tree to the piece that is most steps away."""
    order, before = breadth_first_order(tree, end, directed=False)
    path = [int(order[-1])]
    while path[-1] != end:
        path.append(int(before[path[-1]]))
    return path


def _measure_gaps(middle: list[Candidate]) -> Array:
    """(n, n) gap between every two pieces that all but touch [m], 0 for no link; never exactly 0 for a link."""
    trees = [cKDTree(piece.points) for piece in middle]
    gaps = np.zeros((len(middle), len(middle)))
    for i, one in enumerate(middle):
        for j in range(i):
            reach = TOUCH * min(one.diagonal, middle[j].diagonal)
            apart = np.linalg.norm(np.maximum(0, np.abs(one.box_centre - middle[j].box_centre) - _half(one, middle[j])))
            if apart <= reach:
                gap = float(np.min(trees[j].query(one.points)[0]))
                gaps[i, j] = max(gap, 1e-9) if gap <= reach else 0.0
    return gaps


def _half(one: Candidate, other: Candidate) -> Array:
    half: Array = (one.extent + other.extent) / 2
    return half


def _name_head(chain: list[Candidate]) -> dict[Candidate, Found]:
    """Skull and jaw at the head end of the chain, if they are there: far larger than the vertebrae that follow."""
    ahead = chain[:3]
    skull = max(ahead, key=lambda piece: piece.volume)
    at = chain.index(skull)
    following = [piece.volume for piece in chain[at + 1 : at + 6]]
    if not following or skull.volume < BULKY * max(following):
        return {}
    named: dict[Candidate, Found] = {skull: Found("skull", "Skull", None)}
    for piece in chain[:at]:
        named[piece] = Found("jaw", "Jaw", None)
    return named


def _name_vertebrae(column: list[Candidate], ribs: list[Candidate], beside: list[Candidate]) -> dict[Candidate, Found]:
    """Series and numbers along the column; without a pelvis what follows the ribs stays unnamed."""
    bearing = [column.index(nearest) for nearest in (find_nearest(rib, column)[0] for rib in ribs) if nearest]
    first, last = min(bearing), max(bearing)
    typical = float(np.median([piece.volume for piece in column]))
    names: dict[Candidate, Found] = {}
    _number(names, column[:first], "cervical", "C")
    _number(names, column[first : last + 1], "thoracic", "T")
    behind = column[last + 1 :]
    hips = [piece for piece in beside if piece.volume > BULKY * typical and behind and _reaches(piece, behind)]
    if hips:
        pelvis = max(hips, key=lambda piece: piece.volume)
        names[pelvis] = Found("pelvis", "Pelvis", None)
        touching = [piece for piece in behind if _reaches(pelvis, [piece])]
        sacrum = max(touching, key=lambda piece: piece.volume)
        at = behind.index(sacrum)
        names[sacrum] = Found("sacrum", "Sacrum", None)
        _number(names, behind[:at], "lumbar", "L")
        _number(names, behind[at + 1 :], "caudal", "Ca")
    return names


def _number(names: dict[Candidate, Found], row: list[Candidate], kind: str, letters: str) -> None:
    for number, piece in enumerate(row, start=1):
        names[piece] = Found(kind, f"{letters}{number}", number)


def _reaches(piece: Candidate, vertebrae: list[Candidate]) -> bool:
    nearest, gap = find_nearest(piece, vertebrae)
    return nearest is not None and gap < TOUCH * nearest.diagonal
