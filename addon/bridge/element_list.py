"""The element table as a list in the scene: filled from the file, read back as rows, never out of step unseen."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..core_calcs.skeleton.table import TableRow, hash_table
from ..core_calcs.spatial.errors import TableError
from ..core_calcs.studies.inventory import Expected, read_expected
from ..core_calcs.studies.problems import Problem, list_contradictions, list_table_problems, order_problems
from ..properties.elements import CounterpoiseElement
from ..properties.settings import CounterpoiseSettings

UNNAMED = "{file}: no row of the table names it"

SAME = ("name", "series", "side", "parent", "also", "attachment", "reason", "origin", "file", "unit")


def fill_list(
    settings: CounterpoiseSettings,
    rows: Sequence[TableRow],
    meshes: Sequence[str],
    found: Sequence[str],
    table: Path,
    digest: str,
    unnamed: Sequence[str] | None = None,
) -> None:
    """Show a table that was read from or written to a file; the selected element stays selected.

    meshes : the state of each row's mesh in words; empty where it is not known
    found : what else was found about each row's element, as `write_found` writes it
    digest : of the file
    unnamed : mesh files that no row names; None: as they were
    """
    if unnamed is not None:
        settings.unnamed_files = "\n".join(unnamed)
    selected = selected_name(settings)
    settings.elements.clear()
    for row, mesh, problems in zip(rows, meshes, found, strict=True):
        element = settings.elements.add()
        element.name, element.mesh, element.found = row.element, mesh, problems
        for name in SAME[1:]:
            setattr(element, name, getattr(row, name))
        element.body, element.position = row.body or 0, row.position or 0
    settings.element_index = max(0, settings.elements.find(selected))
    settings.table_read, settings.table_digest, settings.table_edited = str(table), digest, False
    show_problems(settings)


def list_rows(settings: CounterpoiseSettings) -> tuple[TableRow, ...]:
    """The list as rows of a table, in the file's order."""
    rows = []
    for element in settings.elements:
        values = {"element" if name == "name" else name: getattr(element, name).strip() for name in SAME}
        if values["attachment"] in ("root", "column"):
            values["reason"] = ""
        if values["attachment"] != "fixed":
            values["also"] = ""
        rows.append(TableRow(body=element.body or None, position=element.position or None, **values))
    return tuple(rows)


def known_survey(settings: CounterpoiseSettings, rows: Sequence[TableRow]) -> tuple[list[str], list[str]]:
    """The state of each row's mesh, and what else was found, as the list has it from an earlier survey."""
    known = {(element.file, element.body): (element.mesh, element.found) for element in settings.elements}
    here = [known.get((row.file, row.body or 0), ("", "")) for row in rows]
    return [mesh for mesh, _ in here], [found for _, found in here]


def write_found(problems: Sequence[Problem]) -> str:
    """Problems of one element as text that the scene keeps: kind, what, remedy, a line each."""
    return "\n".join("\t".join((problem.kind, problem.what, problem.remedy)) for problem in problems)


def read_found(element: CounterpoiseElement) -> list[Problem]:
    """The problems that an element keeps from its survey."""
    parts = [line.split("\t") for line in element.found.splitlines()]
    return [Problem(kind, element.name, what, element.name, remedy) for kind, what, remedy in parts]


def list_expected(settings: CounterpoiseSettings) -> tuple[Expected, ...]:
    """The counts that the user expects; none where what stands there cannot be read."""
    try:
        return read_expected(settings.expected)
    except TableError:
        return ()


def show_problems(settings: CounterpoiseSettings) -> None:
    """Bring the problems up to date with the list."""
    rows = list_rows(settings)
    meshes = [element.mesh for element in settings.elements]
    found = [problem for element in settings.elements for problem in read_found(element)]
    told = (*list_table_problems(rows, meshes, found, list_expected(settings)), *list_contradictions(rows))
    settings.problems.clear()
    settings.problem_index = -1
    texts: dict[str, list[str]] = {}
    for problem in order_problems(told):
        item = settings.problems.add()
        item.name, item.kind, item.element = f"{problem.where}: {problem.what}", problem.kind, problem.element
        item.remedy = problem.remedy
        texts.setdefault(problem.element, []).append(item.name if problem.kind == "position" else problem.what)
    for file in settings.unnamed_files.splitlines():
        item = settings.problems.add()
        item.name, item.kind = UNNAMED.format(file=file), "file"
    for element in settings.elements:
        element.problem = "\n".join(texts.get(element.name, ()))


def selected_name(settings: CounterpoiseSettings) -> str:
    """Name of the selected element; empty where there is none."""
    if not 0 <= settings.element_index < len(settings.elements):
        return ""
    return str(settings.elements[settings.element_index].name)


def require_written(settings: CounterpoiseSettings, table: Path) -> None:
    """Refuse to go on from a table that the list's edits are not in yet; TableError."""
    if settings.table_edited and settings.table_read == str(table):
        what = "the list of elements has edits that are not in it"
        raise TableError(table.name, what, "write the table, or read it again to drop them")


def was_changed_outside(settings: CounterpoiseSettings, table: Path) -> bool:
    """Whether a file is there that is not the one the list was read from, as it was then."""
    expected = settings.table_digest if settings.table_read == str(table) else ""
    return hash_table(table) not in ("", expected)
