"""The elements of a table beside each other: who is whose partner, who follows whom, who hangs on whom."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.spatial import cKDTree

from ..mesh.records import BodyRecord, Survey
from ..skeleton.element_names import name_kind, name_partner
from ..skeleton.table import TableRow
from ..spatial.transforms import Array

COLUMN = ("cervical", "dorsal", "sacral", "caudal")
MAIN_SHARE = 0.5
"""A body with this share of a file's volume is the element, the others are loose pieces."""
Link = tuple[int, int]
"""An element and the one it hangs on."""


@dataclass(frozen=True, eq=False)
class Piece:
    """An element with what was measured of it."""

    row: TableRow
    record: BodyRecord

    @property
    def name(self) -> str:
        """Of the element."""
        return self.row.element

    @cached_property
    def kind(self) -> tuple[str, str, str]:
        """Series, side, and the name without number and side."""
        return self.row.series, self.row.side, name_kind(self.name)

    @cached_property
    def middle(self) -> Array:
        """(3,) middle of the bounding box [m]."""
        middle: Array = (self.record.solid.lower_m + self.record.solid.upper_m) / 2
        return middle

    @cached_property
    def diagonal(self) -> float:
        """Of the bounding box [m]."""
        return float(np.linalg.norm(self.record.solid.upper_m - self.record.solid.lower_m))

    @cached_property
    def tree(self) -> cKDTree:
        """Of the points spread over it."""
        return cKDTree(self.record.samples_m)


@dataclass(frozen=True, eq=False)
class Arrangement:
    """The elements that are taken in and could be measured, as numbers into `pieces`.

    partners : the same element on the other side, by name
    links : who hangs on whom
    rows : elements of one kind and side in the order of their positions, of three or more
    middle_y : of the mid-plane [m]
    """

    pieces: tuple[Piece, ...]
    partners: dict[int, int]
    links: tuple[Link, ...]
    rows: tuple[tuple[int, ...], ...]
    middle_y: float

    @cached_property
    def pairs(self) -> tuple[tuple[int, int], ...]:
        """Left and right."""
        return tuple((i, j) for i, j in self.partners.items() if self.pieces[i].row.side == "left")

    @cached_property
    def neighbours(self) -> dict[int, list[int]]:
        """By element, those it hangs on and those that hang on it."""
        found: dict[int, list[int]] = defaultdict(list)
        for child, parent in self.links:
            found[child].append(parent)
            found[parent].append(child)
        return found

    def mirror(self, points: Array) -> Array:
        """Points (…, 3) on the other side of the mid-plane."""
        return points * (1, -1, 1) + (0, 2 * self.middle_y, 0)


def arrange(rows: Sequence[TableRow], survey: Survey) -> Arrangement:
    """Find partners, rows and links among the elements that are not left out and could be measured."""
    pieces = []
    for row in rows:
        record = _find_main(survey, row) if row.attachment != "left out" else None
        if record is not None and record.solid.volume_m3 > 0:
            pieces.append(Piece(row, record))
    return arrange_pieces(pieces)


def arrange_pieces(pieces: list[Piece]) -> Arrangement:
    """The same of elements with what was measured of them, wherever that is kept."""
    counts = Counter(piece.name for piece in pieces)
    numbers = {piece.name: i for i, piece in enumerate(pieces) if counts[piece.name] == 1}
    links = tuple((i, numbers[p.row.parent]) for i, p in enumerate(pieces) if p.row.parent in numbers)
    return Arrangement(tuple(pieces), _pair(pieces, numbers), links, _line_up(pieces), _find_middle(pieces))


def _find_main(survey: Survey, row: TableRow) -> BodyRecord | None:
    """What was measured of a row's element, without loose pieces beside it."""
    record = survey.find(row.file, row.body)
    if record is None or row.body is not None:
        return record
    bodies = next(file.bodies for file in survey.files if file.file == row.file)
    largest = max(bodies, key=lambda body: body.solid.volume_m3, default=record)
    return largest if largest.solid.volume_m3 > MAIN_SHARE * record.solid.volume_m3 else record


def _pair(pieces: list[Piece], numbers: dict[str, int]) -> dict[int, int]:
    partners = {}
    for i, piece in enumerate(pieces):
        j = numbers.get(name_partner(piece.name))
        if j is not None and {piece.row.side, pieces[j].row.side} == {"left", "right"}:
            partners[i] = j
    return partners


def _line_up(pieces: list[Piece]) -> tuple[tuple[int, ...], ...]:
    """Rows of one kind; kinds of the column or of the ribs whose positions do not meet are one row."""
    by_kind: dict[tuple[str, str, str], dict[int, int]] = defaultdict(dict)
    for i, piece in enumerate(pieces):
        if piece.row.position is not None:
            by_kind[piece.kind].setdefault(piece.row.position, i)
    rows: list[tuple[int, ...]] = []
    for series, side in dict.fromkeys((series, side) for series, side, _ in by_kind):
        groups = [group for key, group in by_kind.items() if key[:2] == (series, side)]
        for group in join_numberings(groups) if series in (*COLUMN, "ribs") else groups:
            if len(group) > 2:
                rows.append(tuple(group[position] for position in sorted(group)))
    return tuple(rows)


def join_numberings(groups: Sequence[dict[int, int]]) -> list[dict[int, int]]:
    """Numberings (position to element) that share no position, taken as one: atlas, axis, C3; T1 to T13, L14 to L20."""
    joined: list[dict[int, int]] = []
    for group in sorted(groups, key=len, reverse=True):
        fitting = next((there for there in joined if not there.keys() & group.keys()), None)
        if fitting is None:
            joined.append(dict(group))
        else:
            fitting.update(group)
    return joined


def _find_middle(pieces: list[Piece]) -> float:
    own = [p.record.solid.centre_m[1] for p in pieces if p.row.side == "middle" and p.row.series in COLUMN]
    own = own or [p.record.solid.centre_m[1] for p in pieces]
    return float(np.median(own)) if own else 0.0
