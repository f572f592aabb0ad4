"""Rows of a document's elements: who is of one kind and side, in the order of the numbers."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..articulation.mirror_plane import find_centre
from ..articulation.row_places import RowMember
from ..inspection.arrangement import COLUMN, join_numberings
from ..skeleton.element import Element, Series
from ..skeleton.element_names import name_kind
from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from .articulate import SERIES_FROM_HEAD


@dataclass(frozen=True, eq=False)
class Row:
    """Elements of one series and side that are numbered as one, from the first number on."""

    series: Series
    elements: tuple[Element, ...]

    @property
    def members(self) -> tuple[RowMember, ...]:
        """Those that enclose a volume, as they are measured."""
        return tuple(measure_member(own, own.position or 0) for own in self.elements if own.solid.volume_m3 > 0)


def measure_member(element: Element, number: int) -> RowMember:
    """An element that encloses a volume as one of a row."""
    solid, R = element.solid, element.X_WE[:3, :3]
    inertia = R @ solid.inertia_m5 @ R.T
    second = (np.trace(inertia) / 2 * np.eye(3) - inertia) / solid.volume_m3
    return RowMember(element.name, number, find_centre(element), second)


def list_rows(skeleton: Skeleton) -> tuple[Row, ...]:
    """Every row, also of one element; kinds of the column or of the ribs whose numbers do not meet are one row."""
    groups: dict[tuple[Series, str], dict[str, dict[int, int]]] = defaultdict(lambda: defaultdict(dict))
    for i, element in enumerate(skeleton.elements):
        if element.position is not None:
            kinds = groups[element.series, element.side]
            kinds[name_kind(element.name)].setdefault(element.position, i)
    rows = []
    for (series, _), kinds in groups.items():
        of_kinds = list(kinds.values())
        for group in join_numberings(of_kinds) if series in (*COLUMN, "ribs") else of_kinds:
            rows.append(Row(series, tuple(skeleton.elements[group[position]] for position in sorted(group))))
    return tuple(rows)


def find_row(skeleton: Skeleton, element: Element) -> Row:
    """The row of an element; itself alone where it has no number."""
    return next((row for row in list_rows(skeleton) if element in row.elements), Row(element.series, (element,)))


def infer_position(row: Row, name: str) -> int | None:
    """The number of an element of that name in a row, by the numbers in the names of its like; None: it says none.

    Numbers in names need not be the places in the row: L4 may be the 17th.
    """
    told = _last_number(name)
    shifts = [
        (own.position or 0) - number
        for own in row.elements
        if name_kind(own.name) == name_kind(name) and (number := _last_number(own.name)) is not None
    ]
    if told is None or not shifts or len(set(shifts)) > 1:
        return None
    return told + shifts[0]


def propose_name(row: Row, position: int) -> str:
    """A name for a number that is missing in a row: its neighbour's with another number; empty where that has none."""
    near = min(row.elements, key=lambda own: (abs((own.position or 0) - position), own.position or 0))
    numbers = list(re.finditer(r"\d+", near.name))
    if not numbers:
        return ""
    last = numbers[-1]
    number = int(last.group()) + position - (near.position or 0)
    return f"{near.name[: last.start()]}{number}{near.name[last.end() :]}" if number > 0 else ""


def find_beyond(skeleton: Skeleton, row: Row, headward: bool) -> Element | None:
    """What of another series of the column an end of a row hangs on, or hangs on that; None: the column ends there."""
    end = row.elements[0 if headward else -1]
    known = {element.name: element for element in skeleton.elements}
    for joint in skeleton.joints:
        if end.name in (joint.parent, joint.child):
            other = known[joint.child if joint.parent == end.name else joint.parent]
            along = other.series in SERIES_FROM_HEAD and row.series in COLUMN and other.series != row.series
            if along and _lies_headward(other, row.series) == headward:
                return other
    return None


def joint_between(skeleton: Skeleton, one: Element, other: Element) -> Joint | None:
    """The joint between two elements, whichever hangs on the other."""
    pair = {one.name, other.name}
    return next((joint for joint in skeleton.joints if {joint.parent, joint.child} == pair), None)


def list_discs_m(skeleton: Skeleton, elements: Sequence[Element]) -> list[float]:
    """Gaps of the end plates between neighbours in a column, where they are known [m]."""
    joints = (joint_between(skeleton, *pair) for pair in pairwise(elements))
    return [joint.gap_m for joint in joints if joint is not None and joint.gap_m is not None]


def _lies_headward(element: Element, series: Series) -> bool:
    return SERIES_FROM_HEAD.index(element.series) < SERIES_FROM_HEAD.index(series)


def _last_number(name: str) -> int | None:
    found = re.findall(r"\d+", name)
    return int(found[-1]) if found else None
