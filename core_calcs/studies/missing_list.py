"""What is missing in a skeleton: one of a pair, a number in a row, an element where there is room for one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np

from ..inspection.arrangement import COLUMN, Piece, arrange_pieces
from ..inspection.succession import find_spacing
from ..mesh.records import BodyRecord
from ..mesh.shape import Shape
from ..skeleton.element import Element, Series, Side
from ..skeleton.element_names import name_partner
from ..skeleton.table import TableRow
from ..skeleton.tree import Skeleton
from ..spatial.transforms import apply
from .inventory import Expected, count_kind
from .new_bones import MadeWay
from .rows import Row, list_rows, propose_name

MissingKind = Literal["partner", "number", "room", "count"]
"""Partner: one side of a pair is absent; number: nobody in the row holds it; room: two neighbours stand so far apart
that others have room between them, although no number is missing; count: there are fewer than expected."""


@dataclass(frozen=True)
class Missing:
    """A bone that is missing, or may be.

    name : proposed for it; empty where none is known
    way, source : how and of which element it could be made; None and empty where that is not known
    position : in its series; None where it has none
    what : in words
    """

    kind: MissingKind
    name: str
    series: Series | None
    side: Side | None
    position: int | None
    way: MadeWay | None
    source: str
    what: str


def list_missing(skeleton: Skeleton, expected: Sequence[Expected] = ()) -> tuple[Missing, ...]:
    """Everything that seems to be missing: partners, numbers, room, and what expected counts lack."""
    partners = _list_partners(skeleton)
    rows = list_rows(skeleton)
    named = {own.name for own in partners}
    numbers = [own for row in rows for own in _list_numbers(row) if own.name not in named]
    return (*partners, *numbers, *_list_room(skeleton), *_compare_counts(skeleton, expected))


def _list_partners(skeleton: Skeleton) -> list[Missing]:
    names = {element.name for element in skeleton.elements}
    found = []
    for element in skeleton.elements:
        partner = name_partner(element.name)
        if element.side == "middle" or partner == element.name or partner in names:
            continue
        side: Side = "left" if element.side == "right" else "right"
        what = f"{element.name} has no partner on the {side} side"
        sound = element.solid.volume_m3 > 0
        found.append(
            Missing(
                "partner", partner, element.series, side, element.position, "mirrored" if sound else None,
                element.name if sound else "", what,
            )
        )  # fmt: skip
    return found


def _list_numbers(row: Row) -> list[Missing]:
    held = {own.position or 0 for own in row.elements}
    found = []
    for number in range(1, max(held)):
        if number not in held:
            near = _find_nearest(row, number)
            series, side = row.series, row.elements[0].side
            what = f"no element is number {number} of {series}"
            name = propose_name(row, number)
            way: MadeWay | None = "scaled" if near else None
            found.append(Missing("number", name, series, side, number, way, near, what))
    return found


def _find_nearest(row: Row, number: int) -> str:
    sound = [own for own in row.elements if own.solid.volume_m3 > 0]
    near = min(sound, key=lambda own: (abs((own.position or 0) - number), own.position or 0), default=None)
    return near.name if near is not None and len(sound) > 1 else ""


def _list_room(skeleton: Skeleton) -> list[Missing]:
    """Where two neighbours of one row leave room although their numbers follow each other."""
    known = {element.name: element for element in skeleton.elements}
    parents = {joint.child: joint.parent for joint in skeleton.joints}
    pieces = [_describe(own, parents.get(own.name, "")) for own in known.values() if own.solid.volume_m3 > 0]
    findings, _ = find_spacing(arrange_pieces(pieces), set())
    found = []
    for finding in findings:
        after, before = known[finding.element], known[finding.others[0]]
        column = after.series in COLUMN and after.side == "middle"
        way: MadeWay | None = "scaled" if column else None
        name = f"{before.name}b" if column and f"{before.name}b" not in known else ""
        source = before.name if column else ""
        found.append(Missing("room", name, after.series, after.side, after.position, way, source, finding.what))
    return found


def _compare_counts(skeleton: Skeleton, expected: Sequence[Expected]) -> list[Missing]:
    rows = [_make_row(element, "") for element in skeleton.elements]
    found = []
    for own in expected:
        there = count_kind(rows, own.name)
        if there < own.count:
            what = f"{own.name}: {there} there, {own.count} expected"
            found.append(Missing("count", "", None, None, None, None, "", what))
    return found


def _describe(element: Element, parent: str) -> Piece:
    """An element as the survey's measures see it, where it stands in the skeleton."""
    solid = element.solid
    corners = np.array(list(product(*zip(solid.lower_m, solid.upper_m, strict=True))))
    placed = apply(element.X_WE, np.concatenate([corners, solid.centre_m[None]]))
    moved = replace(solid, lower_m=placed[:-1].min(axis=0), upper_m=placed[:-1].max(axis=0), centre_m=placed[-1])
    nothing = np.empty((0, 3))
    shape = Shape(float(np.cbrt(solid.volume_m3)), np.zeros(3), np.zeros(3))
    return Piece(_make_row(element, parent), BodyRecord(None, moved, nothing, nothing, shape))


def _make_row(element: Element, parent: str) -> TableRow:
    source = element.source
    return TableRow(
        source.file, source.body, "m", element.name, element.series, element.position, element.side, parent,
        "fixed" if parent else "root", "", element.origin,
    )  # fmt: skip
