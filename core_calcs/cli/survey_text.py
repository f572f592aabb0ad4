"""What a survey found, as lines and as JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from ..mesh.records import BodyRecord, FileRecord, Survey
from ..skeleton.table import TableRow
from ..studies.inventory import take_inventory
from ..studies.problems import describe_positions, list_count_problems, list_mesh_problems
from .terminal import Terminal

SERIES_KEYS = ("series", "elements", "left", "right", "middle", "positions")


def show_files(terminal: Terminal, survey: Survey) -> None:
    """How many files and bodies there are, and everything that is not sound about them."""
    bodies = sum(len(record.bodies) for record in survey.files)
    unusable = sum(record.state != "read" for record in survey.files)
    counts = f"{len(survey.files)} files, {bodies} bodies, unit {survey.unit}"
    terminal.show_line(counts + (f"; {unusable} files cannot be used" if unusable else ""))
    problems = list_mesh_problems(survey)
    terminal.show_line("every mesh is closed and sound" if not problems else "not closed, or not sound:")
    for problem in problems:
        terminal.show_line(f"  {problem.where}: {problem.what}")
    terminal.show_line()


def show_series(terminal: Terminal, rows: Sequence[TableRow]) -> None:
    """What a table makes of the files, by series, and what seems to be missing."""
    inventory = take_inventory(rows)
    lines = [
        [c.series, str(c.elements), str(c.left), str(c.right), str(c.middle), describe_positions(c.positions)]
        for c in inventory
    ]
    terminal.show_table(SERIES_KEYS, lines, right=(1, 2, 3, 4))
    held = Counter(row.attachment for row in rows)
    terminal.show_line()
    for problem in list_count_problems(rows):
        terminal.show_line(f"{problem.where}: {problem.what}")
    terminal.show_line("attachment: " + ", ".join(f"{name} {count}" for name, count in held.most_common()))


def series_tree(rows: Sequence[TableRow]) -> list[dict[str, Any]]:
    """The inventory as plain values."""
    return [
        {
            "series": count.series,
            "elements": count.elements,
            "left": count.left,
            "right": count.right,
            "middle": count.middle,
            "positions": list(count.positions),
            "missing": list(count.missing),
            "unpaired": list(count.unpaired),
        }
        for count in take_inventory(rows)
    ]


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
