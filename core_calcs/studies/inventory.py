"""Counting what an element table holds: how many of each series, which numbers and which partners are missing."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

from ..inspection.arrangement import COLUMN, join_numberings
from ..skeleton.element import Series
from ..skeleton.element_names import name_kind, name_partner
from ..skeleton.table import TableRow
from ..spatial.errors import TableError


@dataclass(frozen=True)
class Numbering:
    """Elements of a series that are numbered as one: vertebrae apart from chevrons, ribs from belly ribs.

    kind : of their names, without number and side
    positions : those held, in order, each once
    missing : positions from 1 to the greatest that nobody holds; whether there should be more at the end is not known
    """

    kind: str
    positions: tuple[int, ...]
    missing: tuple[int, ...]


@dataclass(frozen=True)
class SeriesCount:
    """One series of the table, without what is left out.

    numberings : of its elements that have a position
    unpaired : elements of one side whose name with the other side's word (.L, .R, left, right …) is not in the table
    """

    series: Series
    left: int
    middle: int
    right: int
    numberings: tuple[Numbering, ...]
    unpaired: tuple[str, ...]

    @property
    def elements(self) -> int:
        """How many in all."""
        return self.left + self.middle + self.right


@dataclass(frozen=True)
class Expected:
    """How many there should be. name : of elements, without number and side, or of a series."""

    name: str
    count: int


def read_expected(text: str) -> tuple[Expected, ...]:
    """Expected counts from a text such as `caudal=44, rib=24`.

    Raises
    ------
    TableError : a part is no name with a whole number
    """
    found = []
    for part in re.split(r"[,;]", text):
        if part.strip():
            name, _, count = (word.strip() for word in part.rpartition("="))
            if not name or not (count.isascii() and count.isdigit()):
                what = f"{part.strip()!r} does not say how many of what"
                raise TableError("expected counts", what, "write a name and a number, e.g. caudal=44")
            found.append(Expected(name, int(count)))
    return tuple(found)


def count_kind(rows: Sequence[TableRow], name: str) -> int:
    """How many elements of that name, without number and side, are taken in; of that series where none is so named."""
    kept = [row for row in rows if row.attachment != "left out"]
    named = sum(name_kind(row.element) == name.lower() for row in kept)
    return named or sum(row.series == name.lower() for row in kept)


def take_inventory(rows: Sequence[TableRow]) -> tuple[SeriesCount, ...]:
    """Every series that the table holds, from the head on, then what has no order."""
    kept = [row for row in rows if row.attachment != "left out"]
    names = {row.element for row in kept}
    counts = []
    for series in get_args(Series):
        here = [row for row in kept if row.series == series]
        if not here:
            continue
        left, middle, right = (sum(row.side == side for row in here) for side in ("left", "middle", "right"))
        unpaired = tuple(row.element for row in here if row.side != "middle" and name_partner(row.element) not in names)
        counts.append(SeriesCount(series, left, middle, right, _list_numberings(series, here), unpaired))
    return tuple(counts)


def _list_numberings(series: Series, rows: Sequence[TableRow]) -> tuple[Numbering, ...]:
    by_kind: dict[str, dict[int, int]] = defaultdict(dict)
    kinds = [name_kind(row.element) for row in rows]
    for i, row in enumerate(rows):
        if row.position is not None:
            by_kind[kinds[i]].setdefault(row.position, i)
    groups = list(by_kind.values())
    numberings = []
    for group in join_numberings(groups) if series in (*COLUMN, "ribs") else groups:
        missing = tuple(number for number in range(1, max(group)) if number not in group)
        numberings.append(Numbering(kinds[next(iter(group.values()))], tuple(sorted(group)), missing))
    return tuple(numberings)
