"""What is to be looked at before a skeleton is built, in words: unsound meshes, missing elements, odd ones."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from ..inspection.finding import FindingKind
from ..inspection.inspection import Inspection, inspect
from ..mesh.records import BodyRecord, FileRecord, Survey, describe_body
from ..mesh.solid import Solid
from ..skeleton.element_names import name_kind
from ..skeleton.table import TableRow
from ..skeleton.table_check import list_refusals
from .inventory import Expected, Numbering, SeriesCount, count_kind, take_inventory

ProblemKind = Literal["mesh", "position", "partner", "count", "table"] | FindingKind
CLOSED = "closed"
SHORTEST_M, LONGEST_M = 0.002, 10.0
"""The longest element of a skeleton lies between them: jaws of the greatest whales measure some 7 m, whole skeletons of
the smallest frogs some 7 mm (from memory, no source)."""
REMEDIES = {
    "open": "close its holes or scan it again; until then its volume is an estimate",
    "inside out": "nothing for the figures, which take it turned; turn its faces for other programs",
    "mixed winding": "nothing for the figures, which take its faces turned alike; do so for other programs",
    "doubled surface": "nothing for the figures, which take one skin; take the second away for other programs",
    "several bodies": "take loose pieces away, or give each body that is an element a row of its own",
    "duplicate": "leave one of the two out, or take its file away",
    "empty": "export it again, or leave it out",
    "unreadable": "export it again, or leave it out",
}
"""What to do about a state of a mesh."""


@dataclass(frozen=True)
class Problem:
    """One thing to look at.

    where : file or body, series, or element, as a reader names it
    element : name of the element concerned; of its neighbour in the series where a position is missing; empty where
        the table has none
    remedy : what to do, without a full stop; empty where `what` says it all
    """

    kind: ProblemKind
    where: str
    what: str
    element: str
    remedy: str = ""


def order_problems(problems: Sequence[Problem]) -> tuple[Problem, ...]:
    """The gravest first, else as they come: what keeps the table from being built, what a file withholds, what was
    found among the elements, states of meshes that the figures take as they are."""

    def rank(problem: Problem) -> int:
        if problem.kind == "table":
            return 0
        if problem.kind != "mesh":
            return 2
        if problem.what.startswith(("empty", "unreadable")) or "duplicate" in problem.what:
            return 1
        return 4 if problem.what == "several bodies" else 3

    return tuple(sorted(problems, key=rank))


def list_mesh_problems(survey: Survey) -> tuple[Problem, ...]:
    """Everything unsound about the files and their bodies: every state but `closed`, in the files' order."""
    problems = []
    for record in survey.files:
        if record.whole is None:
            problems.append(Problem("mesh", record.file, _describe_file(record), "", REMEDIES[record.state]))
            continue
        single = len(record.bodies) == 1
        for body in [record.whole] if single else [record.whole, *record.bodies]:
            whole_of_many = not single and body.number is None
            remarks = _list_remarks(body, {"several bodies"} if whole_of_many else None)
            if remarks:
                what = "; ".join(remarks)
                problems.append(Problem("mesh", describe_body(record.file, body.number), what, "", find_remedy(what)))
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


def find_remedy(mesh: str) -> str:
    """What to do about a mesh in a state that was described in words."""
    parts = mesh.split("; ")
    return "; ".join(text for state, text in REMEDIES.items() if any(part.startswith(state) for part in parts))


def list_table_problems(
    rows: Sequence[TableRow], meshes: Sequence[str], found: Sequence[Problem] = (), expected: Sequence[Expected] = ()
) -> tuple[Problem, ...]:
    """Everything to look at in a table: meshes, what an inspection found, positions, partners, counts.

    Parameters
    ----------
    meshes : the state of each row's mesh, as `describe_mesh` says it; empty where it is not known
    found : of an inspection, as `list_findings` says it; what is of an element that is left out is passed over

    A file that could not be used is left out by the proposal; it is told until the row has a reason of the user's.
    """
    kept = {row.element for row in rows if row.attachment != "left out"}
    problems = [
        Problem("mesh", row.element, mesh, row.element, find_remedy(mesh))
        for row, mesh in zip(rows, meshes, strict=True)
        if mesh not in ("", CLOSED) and (row.attachment != "left out" or _says_same(row, mesh))
    ]
    problems += [problem for problem in found if problem.element in kept]
    return (*problems, *list_count_problems(rows, expected))


def find_problems(rows: Sequence[TableRow], survey: Survey) -> tuple[Problem, ...]:
    """Hold the elements against each other, and say what is to be looked at."""
    return list_findings(inspect(rows, survey), rows)


def list_findings(inspection: Inspection, rows: Sequence[TableRow]) -> tuple[Problem, ...]:
    """What was found by holding the elements against each other."""
    problems = [Problem(f.kind, f.element, f.what, f.element, f.remedy) for f in inspection.findings]
    root = next((row.element for row in rows if row.attachment == "root"), "")
    if not inspection.laid_out:
        what = "do not stand as a skeleton: too many are far from what they hang on; places, sides and turns not judged"
        remedy = "export them where they stand, or correct parents and unit"
        problems.insert(0, Problem("place", "the elements", what, root, remedy))
    if inspection.longest_m > 0 and not SHORTEST_M < inspection.longest_m < LONGEST_M:
        what = f"the longest measures {1000 * inspection.longest_m:.3g} mm, which no bone does"
        problems.insert(0, Problem("unit", "the elements", what, root, "read the files in their own unit"))
    return tuple(problems)


def _says_same(row: TableRow, mesh: str) -> bool:
    """Whether a row that is left out has the survey's own words for its reason."""
    reason = row.reason.removeprefix(f"{row.file}: ")
    return bool(reason) and mesh.split(". ")[0] in ("empty", "unreadable") and reason in mesh


def list_contradictions(rows: Sequence[TableRow], survey: Survey | None = None) -> tuple[Problem, ...]:
    """Everything for which the table would be refused; without a survey whatever the files hold."""
    problems = []
    for refusal in list_refusals(rows, survey):
        element = rows[refusal.row - 2].element if refusal.row is not None else ""
        problems.append(Problem("table", refusal.where, refusal.what, element, refusal.remedy))
    return tuple(problems)


def list_count_problems(rows: Sequence[TableRow], expected: Sequence[Expected] = ()) -> tuple[Problem, ...]:
    """What seems to be missing: positions within a series, partners on the other side, counts not as expected."""
    problems = []
    for count in take_inventory(rows):
        for numbering in count.numberings:
            for run in _list_runs(numbering.missing):
                what = f"no element at position {describe_positions(run)}"
                where = describe_numbering(count, numbering)
                problems.append(Problem("position", where, what, _find_neighbour(rows, count, numbering, run[0])))
        problems += [Problem("partner", name, "without a partner on the other side", name) for name in count.unpaired]
    for wanted in expected:
        found = count_kind(rows, wanted.name)
        if found != wanted.count:
            what = f"{found} elements, {wanted.count} expected"
            problems.append(Problem("count", wanted.name, what, "", "look for the difference among files and rows"))
    return tuple(problems)


def describe_numbering(count: SeriesCount, numbering: Numbering) -> str:
    """The series, and of which kind where it has several."""
    return count.series if len(count.numberings) == 1 else f"{count.series}, {numbering.kind}"


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


def _find_neighbour(rows: Sequence[TableRow], count: SeriesCount, numbering: Numbering, missing: int) -> str:
    """The element before a missing position, else the one after it."""
    before = [position for position in numbering.positions if position < missing]
    wanted = before[-1] if before else min(position for position in numbering.positions if position > missing)
    here = [row for row in rows if row.series == count.series and row.attachment != "left out"]
    held = [row.element for row in here if row.position == wanted]
    return next((name for name in held if name_kind(name) == numbering.kind), held[0])


def _describe_file(record: FileRecord) -> str:
    return f"{record.state}. {record.problem.removeprefix(f'{record.file}: ')}"


def _list_remarks(body: BodyRecord, only: set[str] | None = None) -> list[str]:
    """Remarks on a body; on the whole of a file of several bodies only that it is one."""
    remarks = []
    for state in body.solid.states:
        if state in (CLOSED, "duplicate") or (only is not None and state not in only):
            continue
        remarks.append(f"open, volume known to {_tell_percent(body.solid)}" if state == "open" else state)
    if body.duplicate_of is not None and only is None:
        remarks.append(f"duplicate of {describe_body(*body.duplicate_of)}")
    return remarks


def _tell_percent(solid: Solid) -> str:
    if solid.volume_m3 <= 0:
        return "nothing"
    return f"± {100 * solid.volume_error_m3 / solid.volume_m3:.2g} %"
