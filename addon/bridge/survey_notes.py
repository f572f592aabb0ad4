"""What the survey found, as a text block that a person reads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import bpy

from ..core_calcs.skeleton.table import TableRow
from ..core_calcs.studies.survey import Survey

NOTES = "Survey"


def write_notes(survey: Survey, rows: Sequence[TableRow], problems: Sequence[str]) -> None:
    """Write files, elements by series, what is left out and why, and the problems."""
    series = Counter(row.series for row in rows if row.attachment != "left out")
    left_out = [row for row in rows if row.attachment == "left out"]
    lines = [f"{len(survey.files)} files, unit {survey.unit}", "", "Elements by series:"]
    lines += [f"  {name}: {count}" for name, count in series.items()]
    lines += ["", f"Left out: {len(left_out)}"]
    lines += [f"  {row.element or row.file}: {row.reason}" for row in left_out]
    lines += ["", f"Problems: {len(problems)}", *(f"  {problem}" for problem in problems), ""]
    text = bpy.data.texts.get(NOTES) or bpy.data.texts.new(NOTES)
    text.from_string("\n".join(lines))
