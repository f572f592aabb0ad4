"""Counting what an element table holds: how many of each series, which numbers and which partners are missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

from ..skeleton.element import Series
from ..skeleton.table import TableRow


@dataclass(frozen=True)
class SeriesCount:
    """One series of the table, without what is left out.

    positions : those held, in order, each once
    missing : positions from 1 to the greatest that nobody holds; whether there should be more at the end is not known
    unpaired : elements of one side whose name with the other side's ending (.L, .R) is not in the table
    """

    series: Series
    left: int
    middle: int
    right: int
    positions: tuple[int, ...]
    missing: tuple[int, ...]
    unpaired: tuple[str, ...]

    @property
    def elements(self) -> int:
        """How many in all."""
        return self.left + self.middle + self.right


def take_inventory(rows: Sequence[TableRow]) -> tuple[SeriesCount, ...]:
    """Every series that the table holds, from the head on, then what has no order."""
    kept = [row for row in rows if row.attachment != "left out"]
    names = {row.element for row in kept}
    counts = []
    for series in get_args(Series):
        here = [row for row in kept if row.series == series]
        if not here:
            continue
        held = {row.position for row in here if row.position is not None}
        left, middle, right = (sum(row.side == side for row in here) for side in ("left", "middle", "right"))
        missing = tuple(number for number in range(1, max(held, default=0)) if number not in held)
        unpaired = tuple(row.element for row in here if row.side != "middle" and name_partner(row.element) not in names)
        counts.append(SeriesCount(series, left, middle, right, tuple(sorted(held)), missing, unpaired))
    return tuple(counts)


def name_partner(name: str) -> str:
    """The name of the element on the other side; the name itself where it has no ending .L or .R."""
    other = {".L": ".R", ".R": ".L"}.get(name[-2:])
    return name[:-2] + other if other else name
