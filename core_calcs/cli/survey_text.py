"""What a survey found, as lines and as JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from ..inspection.inspection import Inspection
from ..mesh.records import BodyRecord, FileRecord, Survey
from ..skeleton.table import TableRow
from ..studies.inventory import SeriesCount, take_inventory
from ..studies.problems import REMEDIES, Problem, describe_positions, list_mesh_problems
from .terminal import Terminal

SERIES_KEYS = ("series", "elements", "left", "right", "middle", "positions")


def show_files(terminal: Terminal, survey: Survey) -> None:
    """How many files and bodies there are, how large the whole is, and everything that is not sound."""
    bodies = sum(len(record.bodies) for record in survey.files)
    unusable = sum(record.state != "read" for record in survey.files)
    counts = f"{len(survey.files)} files, {bodies} bodies, unit {survey.unit}"
    terminal.show_line(counts + (f"; {unusable} files cannot be used" if unusable else ""))
    if bodies:
        terminal.show_line(f"together {_describe_extent(survey)}")
    problems = list_mesh_problems(survey)
    terminal.show_line("every mesh is closed and sound" if not problems else "not closed, or not sound:")
    for problem in problems:
        terminal.show_line(f"  {problem.where}: {problem.what}")
    if problems:
        terminal.show_line("what to do:")
        for state, remedy in REMEDIES.items():
            if any(remedy in problem.remedy and state in problem.what for problem in problems):
                terminal.show_line(f"  {state}: {remedy}")
    terminal.show_line()


def show_series(terminal: Terminal, rows: Sequence[TableRow], inspection: Inspection) -> None:
    """What a table makes of the files, by series, and where the elements come from."""
    lines = [
        [c.series, str(c.elements), str(c.left), str(c.right), str(c.middle), _describe_numbers(c)]
        for c in take_inventory(rows)
    ]
    terminal.show_table(SERIES_KEYS, lines, right=(1, 2, 3, 4))
    terminal.show_line()
    kept = [row for row in rows if row.attachment != "left out"]
    for word, values in (("attachment", [r.attachment for r in rows]), ("origin", [r.origin for r in kept])):
        held = Counter(values).most_common()
        terminal.show_line(f"{word}: " + ", ".join(f"{name} {count}" for name, count in held))
    following = sum(bool(row.also) for row in kept)
    if following:
        terminal.show_line(f"fixed and following two elements, half and half: {following}")
    if inspection.pairs:
        told = f"left and right: {inspection.mirrored} of {inspection.pairs} pairs are exact mirror images"
        terminal.show_line(told + (": at most one of each was scanned" if inspection.mirrored else ""))


def show_problems(terminal: Terminal, problems: Sequence[Problem]) -> None:
    """What is to be looked at: the kind, where, what is the matter, what to do."""
    terminal.show_line("nothing else to look at" if not problems else f"to look at: {len(problems)}")
    for problem in problems:
        remedy = f". {problem.remedy[:1].upper()}{problem.remedy[1:]}." if problem.remedy else ""
        terminal.show_line(f"  {problem.kind}: {problem.where}: {problem.what}{remedy}")
    terminal.show_line()


def series_tree(rows: Sequence[TableRow]) -> list[dict[str, Any]]:
    """The inventory as plain values."""
    return [
        {
            "series": count.series,
            "elements": count.elements,
            "left": count.left,
            "right": count.right,
            "middle": count.middle,
            "numberings": [asdict(numbering) for numbering in count.numberings],
            "unpaired": list(count.unpaired),
        }
        for count in take_inventory(rows)
    ]


def inspection_tree(inspection: Inspection) -> dict[str, Any]:
    """What the pairs show, and whether places could be judged, as plain values."""
    return {"laid_out": inspection.laid_out, "pairs": inspection.pairs, "mirrored_pairs": inspection.mirrored}


def problem_tree(problems: Sequence[Problem]) -> list[dict[str, Any]]:
    """What is to be looked at, as plain values."""
    return [asdict(problem) for problem in problems]


def _describe_numbers(count: SeriesCount) -> str:
    """Its positions, by kind where there are several."""
    if len(count.numberings) == 1:
        return describe_positions(count.numberings[0].positions)
    return "; ".join(f"{n.kind} {describe_positions(n.positions)}" for n in count.numberings)


def _describe_extent(survey: Survey) -> str:
    """Length, breadth and height of the box about everything."""
    solids = [record.whole.solid for record in survey.files if record.whole is not None]
    lower, upper = np.min([s.lower_m for s in solids], axis=0), np.max([s.upper_m for s in solids], axis=0)
    return " × ".join(f"{length:.3g}" for length in (upper - lower).tolist()) + " m"


def survey_tree(survey: Survey) -> list[dict[str, Any]]:
    """The files and bodies as plain values, SI units."""
    return [_file_tree(record) for record in survey.files]


def _file_tree(record: FileRecord) -> dict[str, Any]:
    return {
        "file": record.file,
        "state": record.state,
        "problem": record.problem,
        "unit": record.unit,
        "sha256": record.sha256,
        "whole": None if record.whole is None else _body_tree(record.whole),
        "bodies": [_body_tree(body) for body in record.bodies],
    }


def _body_tree(body: BodyRecord) -> dict[str, Any]:
    solid, twin = body.solid, body.duplicate_of
    return {
        "body": body.number,
        "states": list(solid.states),
        "duplicate_of": None if twin is None else {"file": twin[0], "body": twin[1]},
        "triangles": solid.triangles,
        "volume_m3": float(solid.volume_m3),
        "volume_error_m3": float(solid.volume_error_m3),
        "lower_m": solid.lower_m.tolist(),
        "upper_m": solid.upper_m.tolist(),
    }
