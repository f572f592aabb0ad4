"""Whether an element table fits the surveyed files and itself."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..mesh.reading import is_inside
from ..mesh.records import Survey, describe_body
from ..spatial.errors import TableError
from .table import NAME_BYTES, WORDS, TableRow

Numbered = tuple[int, TableRow]


def check_table(rows: Sequence[TableRow], survey: Survey) -> None:
    """Refuse a table that names what is not there, or makes no single tree.

    Rows are numbered as in the file, the header being row 1.

    Raises
    ------
    TableError : with the row: a file outside the folder, unknown or unusable, another unit than surveyed, an
        unknown body, another origin than a made file says of itself, a body or name used twice, a name that is
        empty, too long or holds a path separator, an unknown word, an unknown parent, none or several roots, parents
        in a circle, a fixed or left-out row without a reason, a second element to follow that cannot be one
    """
    for error in list_refusals(rows, survey):
        raise error


def check_rows(rows: Sequence[TableRow]) -> None:
    """Refuse a table that contradicts itself, whatever the files hold: what `check_table` says without a survey.

    Raises
    ------
    TableError : with the row
    """
    for error in list_refusals(rows):
        raise error


def list_refusals(rows: Sequence[TableRow], survey: Survey | None = None) -> Iterator[TableError]:
    """Every reason for which a table is refused; without a survey, those that it carries in itself."""
    numbered = list(enumerate(rows, start=2))
    for number, row in numbered:
        yield from _check_words(number, row)
        yield from _check_name(number, row)
        if survey is not None:
            yield from _check_place(number, row, survey)
    yield from _check_once(numbered)
    kept = [(number, row) for number, row in numbered if row.attachment != "left out"]
    yield from _check_parents(kept)
    yield from _check_circle(kept)
    yield from _check_seconds(kept)


def _refuse(number: int, what: str, remedy: str) -> TableError:
    error = TableError(f"element table, row {number}", what, remedy)
    error.row = number
    return error


def _check_words(number: int, row: TableRow) -> Iterator[TableError]:
    for name, words in WORDS.items():
        if getattr(row, name) not in words:
            yield _refuse(number, f"unknown {name} {getattr(row, name)!r}", f"use one of: {', '.join(words)}")
    if row.attachment in ("fixed", "left out") and not row.reason.strip():
        yield _refuse(number, f"{row.element!r} is {row.attachment} without a reason", "write why under reason")


def _check_name(number: int, row: TableRow) -> Iterator[TableError]:
    name = row.element
    if not name.strip() or name != name.strip():
        yield _refuse(number, "the element's name is empty or begins or ends with a space", "give it a name")
    if len(name.encode()) > NAME_BYTES:
        yield _refuse(number, f"the name {name!r} is longer than {NAME_BYTES} bytes", "shorten it")
    if any(mark in name for mark in "/\\:") or not name.isprintable() or name in (".", ".."):
        yield _refuse(number, f"the name {name!r} cannot be a file's name", "use letters, digits, '.', '-' and '_'")


def _check_place(number: int, row: TableRow, survey: Survey) -> Iterator[TableError]:
    if not is_inside(row.file):
        yield _refuse(number, f"{row.file!r} does not lie in the mesh folder", "name it relative to that folder")
        return
    record = next((file for file in survey.files if file.file == row.file), None)
    if record is None:
        yield _refuse(number, f"there is no mesh file {row.file!r}", "correct the name, or copy the file there")
        return
    if row.attachment == "left out":
        return
    if record.unit != row.unit:
        what = f"{row.file!r} is said to be in {row.unit}, but was surveyed in {record.unit}"
        yield _refuse(number, what, "correct the unit, or survey the files again in the table's units")
    if record.whole is None:
        yield _refuse(number, f"the file cannot be used: {record.problem.rstrip('.')}", "mend it, or leave it out")
    elif survey.find(row.file, row.body) is None:
        count = len(record.bodies)
        yield _refuse(number, f"{row.file!r} has no body {row.body}, only {count}", "see the survey for the bodies")
    if record.made is not None and record.made.origin != row.origin:
        what = f"{row.file!r} says that it was {record.made.origin} of {record.made.made_from}, not {row.origin}"
        yield _refuse(number, what, f"write {record.made.origin} as its origin: what was made stays marked as such")


def _check_once(numbered: list[Numbered]) -> Iterator[TableError]:
    places: dict[tuple[str, int | None], int] = {}
    names: dict[str, int] = {}
    for number, row in numbered:
        what = describe_body(row.file, row.body)
        if (row.file, row.body) in places:
            yield _refuse(number, f"{what} is already in row {places[row.file, row.body]}", "keep one of them")
        places.setdefault((row.file, row.body), number)
        if row.element.casefold() in names:
            first = names[row.element.casefold()]
            yield _refuse(number, f"the name {row.element!r} is already in row {first}", "rename one of them")
        names.setdefault(row.element.casefold(), number)
    for number, row in numbered:
        if row.body is not None and (row.file, None) in places:
            whole = places[row.file, None]
            yield _refuse(number, f"row {whole} already takes {row.file} as a whole", "keep the whole or its bodies")


def _check_parents(kept: list[Numbered]) -> Iterator[TableError]:
    names = {row.element for _, row in kept}
    roots = [(number, row) for number, row in kept if row.attachment == "root"]
    if not roots:
        yield TableError("element table", "no row is the root", "give one element, best the sacrum, attachment root")
    if len(roots) > 1:
        yield _refuse(roots[1][0], f"row {roots[0][0]} is the root already", "keep one root, give this one a parent")
    for number, row in kept:
        if row.attachment == "root" and row.parent:
            yield _refuse(number, "the root has a parent", "leave its parent empty")
        if row.attachment != "root" and row.parent not in names:
            what = f"there is no element {row.parent!r}" if row.parent else f"{row.element!r} has no parent"
            yield _refuse(number, what, "name an element that is in the table and not left out")


def _check_circle(kept: list[Numbered]) -> Iterator[TableError]:
    parents = {row.element: row.parent for _, row in kept}
    safe: set[str] = {""}
    for number, row in kept:
        path, name = [], row.element
        while name not in safe and name not in path:
            path.append(name)
            name = parents.get(name, "")
        if name in path:
            circle = " → ".join([*path[path.index(name) :], name])
            yield _refuse(number, f"the parents run in a circle: {circle}", "lead one of them to the root")
        safe.update(path)


def _check_seconds(kept: list[Numbered]) -> Iterator[TableError]:
    """What an element follows besides its parent: there, another one, a neighbour of its parent, free of straddling."""
    rows = {row.element: row for _, row in kept}
    for number, row in kept:
        if row.also:
            what, remedy = _refuse_second(row, rows)
            if what:
                yield _refuse(number, what, remedy)


def _refuse_second(row: TableRow, rows: dict[str, TableRow]) -> tuple[str, str]:
    """What is wrong with the second element that a row follows, and the remedy; empty where nothing is."""
    own, also, parent, other = row.element, row.also, rows.get(row.parent), rows.get(row.also)
    if row.attachment != "fixed":
        return f"{own!r} is {row.attachment}, and cannot also follow {also!r}", "leave also empty, or make it fixed"
    if other is None:
        return f"there is no element {also!r} to follow", "name an element that is in the table and not left out"
    if also == own:
        return f"{own!r} is to follow itself", "name the other vertebra under also, or leave it empty"
    if also == row.parent:
        return f"parent and also of {own!r} are both {also!r}", "name the other vertebra under also, or leave it empty"
    if parent is not None and row.parent != other.parent and also != parent.parent:
        what = f"{also!r} is no neighbour of {row.parent!r}: neither hangs on the other"
        return what, "name one under also that hangs on the parent, or that the parent hangs on"
    if between := _find_straddling(also, rows):
        what = f"{own!r} follows {also!r}, which hangs on {between!r}, which follows two itself"
        return what, "name an element that hangs on none of those"
    return "", ""


def _find_straddling(name: str, rows: dict[str, TableRow]) -> str:
    """The element, this one or what it hangs on, that follows two; empty where none does."""
    seen: set[str] = set()
    while name in rows and name not in seen:
        if rows[name].also:
            return name
        seen.add(name)
        name = rows[name].parent
    return ""
