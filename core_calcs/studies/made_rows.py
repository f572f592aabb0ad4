"""The element table with what was made, so that a skeleton articulated anew from it has that too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..mesh.reading import UNITS_M
from ..skeleton.element import Element
from ..skeleton.joint import Joint
from ..skeleton.table import Attachment, TableRow
from ..skeleton.tree import Skeleton


def take_made(rows: Sequence[TableRow], skeleton: Skeleton) -> tuple[TableRow, ...]:
    """A table's rows as a skeleton has its made bones: each with a row, and what hangs on one with that as its parent.

    A surface that was mirrored in its place takes the file that it was made into; positions follow the skeleton's. All
    else in the table stays; rows of what is not in the skeleton stay as they are.
    """
    made = {own.name: own for own in skeleton.elements if own.made_from}
    joints = {joint.child: joint for joint in skeleton.joints}
    positions = {own.name: own.position for own in skeleton.elements}
    changed = []
    for row in rows:
        if row.attachment != "left out" and row.element in positions:
            row = replace(row, position=positions[row.element])
            joint = joints.get(row.element)
            if row.element in made:
                row = _take_source(row, made[row.element])
            elif joint is not None and joint.parent in made and row.parent != joint.parent:
                row = _hang(row, joint)
        changed.append(row)
    named = {row.element for row in rows}
    new = [_make_row(own, joints[own.name]) for own in made.values() if own.name not in named and own.name in joints]
    return (*changed, *new)


def _take_source(row: TableRow, element: Element) -> TableRow:
    source = element.source
    return replace(row, file=source.file, body=source.body, unit=_name_unit(source.unit_m), origin=element.origin)


def _hang(row: TableRow, joint: Joint) -> TableRow:
    attachment = _name_attachment(joint)
    reason = joint.reason if attachment == "fixed" else ""
    return replace(row, parent=joint.parent, attachment=attachment, reason=reason, also="")


def _make_row(element: Element, joint: Joint) -> TableRow:
    source, attachment = element.source, _name_attachment(joint)
    reason = joint.reason if attachment == "fixed" else ""
    also = joint.also or "" if attachment == "fixed" else ""
    return TableRow(
        source.file, source.body, _name_unit(source.unit_m), element.name, element.series, element.position,
        element.side, joint.parent, attachment, reason, element.origin, also=also,
    )  # fmt: skip


def _name_attachment(joint: Joint) -> Attachment:
    """How a joint was looked for, or that it was not."""
    if joint.kind == "column" or joint.kind == "limb":
        return joint.kind
    if joint.fit is not None:
        return "limb"
    return "column" if any(facet.kind == "centrum" for facet in joint.facets) else "fixed"


def _name_unit(unit_m: float) -> str:
    return next(name for name, length in UNITS_M.items() if length == unit_m)
