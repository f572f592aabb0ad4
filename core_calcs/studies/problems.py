"""What is to be looked at before a skeleton is built: unsound meshes, missing positions, missing partners, in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from ..mesh.records import BodyRecord, FileRecord, Survey, describe_body
from ..mesh.solid import Solid
from ..skeleton.table import TableRow
from .inventory import SeriesCount, take_inventory

ProblemKind = Literal["mesh", "position", "partner"]
CLOSED = "closed"


@dataclass(frozen=True)
class Problem:
    """One thing to look at.

    where : file or body, series, or element, as a reader names it
    element : name of the element concerned; of its neighbour in the series where a position is missing; empty where
        the table has none
    """

    kind: ProblemKind
    where: str
    what: str
    element: str


def list_mesh_problems(survey: Survey) -> tuple[Problem, ...]:
    """Everything unsound about the files and their bodies: every state but `closed`, in the files' order."""
    problems = []
    for record in survey.files:
        if record.whole is None:
            problems.append(Problem("mesh", record.file, _describe_file(record), ""))
            continue
        single = len(record.bodies) == 1
        for body in [record.whole] if single else [record.whole, *record.bodies]:
            whole_of_many = not single and body.number is None
            remarks = _list_remarks(body, {"several bodies"} if whole_of_many else None)
            if remarks:
                problems.append(Problem("mesh", describe_body(record.file, body.number), "; ".join(remarks), ""))
    return tuple(problems)


def describe_mesh(survey: Survey, row: TableRow) -> str:
    """The state of a row's mesh in words: `closed`, or everything else that applies."""
    record = next((record for record in survey.files if record.file == row.file), None)
    if record is None:
        return "missing: the folder holds no such file"
    if record.whole is None:
        return _describe_file(record)
    body = survey.find(row.file, row.body)
    if body is None:
        return f"missing: the file has only {len(record.bodies)} bodies"
    return "; ".join(_list_remarks(body)) or CLOSED


def list_table_problems(rows: Sequence[TableRow], meshes: Sequence[str]) -> tuple[Problem, ...]:
    """Everything to look at in a table: the meshes of the elements it takes in, positions, partners.

    Parameters
    ----------
    meshes : the state of each row's mesh, as `describe_mesh` says it; empty where it is not known
    """
    problems = [
        Problem("mesh", row.element, mesh, row.element)
        for row, mesh in zip(rows, meshes, strict=True)
        if row.attachment != "left out" and mesh not in ("", CLOSED)
    ]
    return (*problems, *list_count_problems(rows))


def list_count_problems(rows: Sequence[TableRow]) -> tuple[Problem, ...]:
    """What seems to be missing: positions within a series, partners on the other side."""
    problems = []
    for count in take_inventory(rows):
        for run in _list_runs(count.missing):
            what = f"no element at position {describe_positions(run)}"
            problems.append(Problem("position", count.series, what, _find_neighbour(rows, count, run[0])))
        problems += [Problem("partner", name, "without a partner on the other side", name) for name in count.unpaired]
    return tuple(problems)


def describe_positions(positions: Iterable[int]) -> str:
    """Positions as ranges, e.g. `1–7, 9`; empty where there are none."""
    runs = _list_runs(positions)
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)


def _list_runs(positions: Iterable[int]) -> list[list[int]]:
    """Positions that follow each other, together."""
    runs: list[list[int]] = []
    for position in sorted(set(positions)):
        if runs and position == runs[-1][-1] + 1:
            runs[-1].append(position)
        else:
            runs.append([position])
    return runs


def _find_neighbour(rows: Sequence[TableRow], count: SeriesCount, missing: int) -> str:
    """The element before a missing position, else the one after it."""
    before = [position for position in count.positions if position < missing]
    wanted = before[-1] if before else min(position for position in count.positions if position > missing)
    here = (row for row in rows if row.series == count.series and row.attachment != "left out")
    return next(row.element for row in here if row.position == wanted)


def _describe_file(record: FileRecord) -> str:
    return f"{record.state}. {record.problem.removeprefix(f'{record.file}: ')}"


def _list_remarks(body: BodyRecord, only: set[str] | None = None) -> list[str]:
    """Remarks on a body; on the whole of a file of several bodies only that it is one."""
    remarks = []
    for state in body.solid.states:
        if state in (CLOSED, "duplicate") or (only is not None and state not in only):
            continue
        remarks.append(f"open, volume known to {_doubt_percent(body.solid)}" if state == "open" else state)
    if body.duplicate_of is not None and only is None:
        remarks.append(f"duplicate of {describe_body(*body.duplicate_of)}")
    return remarks


def _doubt_percent(solid: Solid) -> str:
    if solid.volume_m3 <= 0:
        return "nothing"
    return f"± {100 * solid.volume_error_m3 / solid.volume_m3:.2g} %"
