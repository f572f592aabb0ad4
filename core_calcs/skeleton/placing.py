"""Recognising pieces by where they lie and how large they are.

World of the scans as laid out: x to the head, y to the animal's left, z up. Thresholds are shares of a vertebra's
size, so that they hold for any animal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..spatial.transforms import Array
from .candidate import Candidate, distance_between
from .column_search import is_rib, search_column
from .element import Side

VERTEBRAE = ("cervical", "thoracic", "lumbar", "sacral", "sacrum", "caudal")
MIDDLE_KINDS = (*VERTEBRAE, "skull", "jaw", "pelvis", "sternum", "chevron")


def judge_side(record_lower: Array, record_upper: Array, middle_y: float) -> Side:
    """Left, right or middle by the bounding box; middle: it spans the mid-plane about evenly."""
    lower, upper = record_lower[1] - middle_y, record_upper[1] - middle_y
    if lower < 0 < upper and abs(lower + upper) < 0.3 * (upper - lower):
        return "middle"
    return "left" if lower + upper > 0 else "right"


def find_middle(pieces: Sequence[Candidate]) -> float:
    """y of the mid-plane: the median of what is named as lying on it, else of all pieces."""
    named = [piece.centre[1] for piece in pieces if piece.kind in MIDDLE_KINDS]
    return float(np.median(named if len(named) > 2 else [piece.centre[1] for piece in pieces])) if pieces else 0.0


def recognise_trunk(pieces: list[Candidate]) -> list[Candidate]:
    """Name thoracic vertebrae, ribs, breastbone and costal cartilages among the pieces without a name."""
    column = order_column(pieces)
    if not column:
        pieces = search_column(pieces)
    found = dict.fromkeys(range(len(pieces)), "")
    unknown = [i for i, piece in enumerate(pieces) if not piece.kind]
    for i in unknown:
        if _fills_gap(pieces[i], column):
            found[i] = "thoracic"
    vertebrae = [piece for i, piece in enumerate(pieces) if found[i] or piece.kind in ("thoracic", "lumbar")]
    if vertebrae:
        _name_ribs(pieces, [i for i in unknown if not found[i]], vertebrae, found)
    named = [replace(piece, kind=found[i] or piece.kind) for i, piece in enumerate(pieces)]
    return _number_trunk(named)


def order_column(pieces: Sequence[Candidate]) -> list[Candidate]:
    """The vertebrae from head to tail: by series, then number, then place."""
    rank = {kind: i for i, kind in enumerate(("cervical", "thoracic", "lumbar", "sacrum", "sacral", "caudal"))}
    return sorted(
        (piece for piece in pieces if piece.kind in rank),
        key=lambda piece: (rank[piece.kind], piece.number or 0, -piece.centre[0]),
    )


def _fills_gap(piece: Candidate, column: list[Candidate]) -> bool:
    """Whether a piece on the mid-line lies between the last cervical and what follows, on the column's line."""
    ahead = [vertebra for vertebra in column if vertebra.kind == "cervical"]
    behind = [vertebra for vertebra in column if vertebra.kind != "cervical"]
    if piece.side != "middle" or not ahead or not behind:
        return False
    start, end = ahead[-1], behind[0]
    line = end.centre - start.centre
    length = float(np.linalg.norm(line))
    share = float((piece.centre - start.centre) @ line) / length**2
    off = float(np.linalg.norm(piece.centre - start.centre - share * line))
    size = (start.diagonal + end.diagonal) / 2
    near = min(start.volume, end.volume) / 5 < piece.volume < max(start.volume, end.volume) * 5
    return 0 < share < 1 and near and off < max(0.75 * size, 0.12 * length)


def _name_ribs(pieces: list[Candidate], unknown: list[int], vertebrae: list[Candidate], found: dict[int, str]) -> None:
    """Set kinds of the paired pieces that touch the vertebrae, and of what hangs on their lower ends."""
    size = float(np.median([vertebra.diagonal for vertebra in vertebrae]))
    sided = [i for i in unknown if pieces[i].side != "middle" and _has_partner(pieces[i], pieces, size)]
    for i in sided:
        if is_rib(pieces[i], vertebrae):
            found[i] = "rib"
    ribs = [pieces[i] for i in sided if found[i]]
    if not ribs:
        return
    front, back = max(rib.points[:, 0].max() for rib in ribs), min(rib.points[:, 0].min() for rib in ribs)
    floor = float(np.median([vertebra.centre[2] for vertebra in vertebrae])) - size
    trunk = [i for i in unknown if not found[i] and back - size < pieces[i].centre[0] < front + size]
    for i in trunk:
        if pieces[i].side == "middle" and pieces[i].centre[2] < floor:
            found[i] = "sternum"
    below = ribs + [pieces[i] for i in trunk if found[i]]
    grouped = {rib.file for rib in ribs if rib.grouped}
    for i in trunk:
        if i in sided and not found[i] and pieces[i].centre[2] < floor:
            in_cage = pieces[i].file in grouped
            if in_cage or min(distance_between(pieces[i], other) for other in below) < 0.1 * size:
                found[i] = "costal cartilage"


def _has_partner(piece: Candidate, pieces: list[Candidate], size: float) -> bool:
    """Whether a piece has its mirror image on the other side."""
    middle = find_middle(pieces)
    mirrored = piece.centre * (1, -1, 1) + (0, 2 * middle, 0)
    return any(
        other.side != piece.side
        and np.linalg.norm(other.centre - mirrored) < 0.25 * size
        and 0.5 * piece.volume < other.volume < 2 * piece.volume
        for other in pieces
    )


def _number_trunk(pieces: list[Candidate]) -> list[Candidate]:
    """Number, from the head, what was recognised by place."""
    numbered = list(pieces)
    for kind, label in (
        ("thoracic", "T"),
        ("rib", "Rib_"),
        ("costal cartilage", "Costal_cartilage_"),
        ("sternum", "Sternebra_"),
    ):
        if kind == "thoracic" and not any(piece.kind == "lumbar" for piece in pieces):
            label = "D"
        for side in ("left", "right", "middle"):
            rows = [i for i, piece in enumerate(pieces) if piece.kind == kind and piece.side == side]
            unnamed = [i for i in rows if pieces[i].number is None or pieces[i].grouped]
            if kind == "rib" or kind == "thoracic":
                unnamed.sort(key=lambda i: -_head_x(pieces[i], kind))
            else:
                unnamed.sort(key=lambda i: -pieces[i].measured.solid.upper_m[0])
            taken = {pieces[i].number for i in rows if i not in unnamed}
            free = (n for n in range(1, len(rows) + len(taken) + 1) if n not in taken)
            for i, number in zip(unnamed, free, strict=False):
                numbered[i] = replace(pieces[i], number=number, label=f"{label}{number}")
    return numbered


def _head_x(piece: Candidate, kind: str) -> float:
    """x of a rib's head (its uppermost tenth), of a vertebra's centre."""
    if kind == "thoracic":
        return float(piece.centre[0])
    few = max(1, len(piece.points) // 10)
    return float(piece.points[np.argsort(-piece.points[:, 2])[:few], 0].mean())
