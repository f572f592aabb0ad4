"""What a survey found, as lines and as JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from ..mesh.records import BodyRecord, FileRecord, Survey, describe_body
from ..mesh.solid import Solid
from ..skeleton.table import TableRow
from ..studies.inventory import take_inventory
from .terminal import Terminal

SERIES_KEYS = ("series", "elements", "left", "right", "middle", "positions")


def show_files(terminal: Terminal, survey: Survey) -> None:
    """How many files and bodies there are, and everything that is not sound about them."""
    bodies = sum(len(record.bodies) for record in survey.files)
    unusable = sum(record.state != "read" for record in survey.files)
    counts = f"{len(survey.files)} files, {bodies} bodies, unit {survey.unit}"
    terminal.show_line(counts + (f"; {unusable} files cannot be used" if unusable else ""))
    problems = list_problems(survey)
    terminal.show_line("every mesh is closed and sound" if not problems else "not closed, or not sound:")
    for where, what in problems:
        terminal.show_line(f"  {where}: {what}")
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
    for count in inventory:
        if count.missing:
            terminal.show_line(f"{count.series}: no element at position {describe_positions(count.missing)}")
        if count.unpaired:
            terminal.show_line(f"{count.series}: without a partner on the other side: {', '.join(count.unpaired)}")
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


def describe_positions(positions: Iterable[int]) -> str:
    """Positions as ranges, e.g. `1–7, 9`; empty where there are none."""
    runs: list[list[int]] = []
    for position in sorted(set(positions)):
        if runs and position == runs[-1][1] + 1:
            runs[-1][1] = position
        else:
            runs.append([position, position])
    return ", ".join(str(first) if first == last else f"{first}–{last}" for first, last in runs)


def list_problems(survey: Survey) -> list[tuple[str, str]]:
    """File or body, and what is to be said of it: every state but `closed`, in the files' order."""
    problems = []
    for record in survey.files:
        if record.whole is None:
            problems.append((record.file, f"{record.state}. {record.problem.removeprefix(f'{record.file}: ')}"))
            continue
        single = len(record.bodies) == 1
        for body in [record.whole] if single else [record.whole, *record.bodies]:
            whole_of_many = not single and body.number is None
            remarks = _list_remarks(body, {"several bodies"} if whole_of_many else None)
            if remarks:
                problems.append((describe_body(record.file, body.number), "; ".join(remarks)))
    return problems


def _list_remarks(body: BodyRecord, only: set[str] | None) -> list[str]:
    """Remarks on a body; on the whole of a file of several bodies only that it is one."""
    remarks = []
    for state in body.solid.states:
        if state in ("closed", "duplicate") or (only is not None and state not in only):
            continue
        remarks.append(f"open, volume known to {_doubt_percent(body.solid)}" if state == "open" else state)
    if body.duplicate_of is not None and only is None:
        remarks.append(f"duplicate of {describe_body(*body.duplicate_of)}")
    return remarks


def _doubt_percent(solid: Solid) -> str:
    if solid.volume_m3 <= 0:
        return "nothing"
    return f"± {100 * solid.volume_error_m3 / solid.volume_m3:.2g} %"


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
