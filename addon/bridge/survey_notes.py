"""What the survey found, as a text block that a person reads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import bpy

from ..core_calcs.skeleton.table import TableRow
from ..core_calcs.studies.survey import Survey

NOTES = "Survey"


def write_notes(survey: Survey, rows: Sequence[TableRow]) -> int:
    """Write the notes; returns how many remarks there are on the meshes."""
    remarks = list_remarks(survey)
    series = Counter(row.series for row in rows if row.attachment != "left out")
    left_out = [row for row in rows if row.attachment == "left out"]
    lines = [f"{len(survey.files)} files, unit {survey.unit}", "", "Elements by series:"]
    lines += [f"  {name}: {count}" for name, count in series.items()]
    lines += ["", f"Left out: {len(left_out)}"]
    lines += [f"  {row.element or row.file}: {row.reason}" for row in left_out]
    lines += ["", f"Remarks: {len(remarks)}", *(f"  {remark}" for remark in remarks), ""]
    text = bpy.data.texts.get(NOTES) or bpy.data.texts.new(NOTES)
    text.from_string("\n".join(lines))
    return len(remarks)


def list_remarks(survey: Survey) -> list[str]:
    """Every file that cannot be used, and every body that is not simply closed."""
    remarks = []
    for record in survey.files:
        if record.whole is None:
            remarks.append(record.problem)
            continue
        for body in record.bodies:
            states = [state for state in body.solid.states if state != "closed"]
            number = f", body {body.number}" if len(record.bodies) > 1 else ""
            if states:
                remarks.append(f"{record.file}{number}: {', '.join(states)}")
    return remarks
