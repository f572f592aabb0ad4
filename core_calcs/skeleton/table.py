"""The element table: what every file or body is, and what it hangs on."""

from __future__ import annotations

import csv
import hashlib
import io
import os
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Literal, get_args

from ..mesh.reading import UNITS_M
from ..spatial.errors import OutputError, TableError
from .element import Origin, Series, Side

Attachment = Literal["root", "column", "limb", "fixed", "left out"]

NAME_BYTES = 63
"""Blender keeps names of bones and objects to 63 bytes."""


@dataclass(frozen=True)
class TableRow:
    """One row of the element table.

    file : relative to the mesh folder, forward slashes
    body : number of the body in the file from 1 in the survey's order; None: the whole file
    unit : of the file, e.g. "mm"
    element : name, unique
    parent : name of another element; empty for the root and for what is left out
    also : of a fixed element that follows two, half and half, the second: a neighbour of its parent; else empty
    attachment : `column`: a joint of the vertebral column is looked for, `limb`: one of the limbs, `fixed`: none
    reason : why it is fixed or left out; else a remark, or empty
    """

    file: str
    body: int | None
    unit: str
    element: str
    series: Series
    position: int | None
    side: Side
    parent: str
    also: str = field(default="", kw_only=True)
    attachment: Attachment
    reason: str
    origin: Origin


COLUMNS = tuple(column.name for column in fields(TableRow))
WORDS: dict[str, tuple[str, ...]] = {
    "unit": tuple(UNITS_M),
    "series": get_args(Series),
    "side": get_args(Side),
    "attachment": get_args(Attachment),
    "origin": get_args(Origin),
}
"""The words that a column may hold."""
_MAY_BE_MISSING = {"body": "", "position": "", "reason": "", "parent": "", "also": "", "origin": "not known"}


def read_table(path: Path) -> tuple[TableRow, ...]:
    """The rows of a table file: CSV, UTF-8, the columns in any order, separated by comma, semicolon or tab.

    Raises
    ------
    TableError : the file cannot be read, a column is missing or unknown, a word or number is none that is allowed
    """
    header, lines = read_cells(path, COLUMNS)
    _check_header(path, header)
    return tuple(_read_row(path, number, header, line) for number, line in lines)


def read_cells(path: Path, columns: Sequence[str]) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Header of a table file and its lines that hold something, each with its number in the file; see `read_table`.

    columns : that it may have, for the remedy

    Raises
    ------
    TableError : the file cannot be read as a table, or holds no rows
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise TableError(str(path), f"it cannot be read ({error.strerror})", "name the table's file") from error
    except UnicodeDecodeError as error:
        raise TableError(str(path), "it is not UTF-8 text", "save it as CSV in UTF-8") from error
    first = text.splitlines()[0] if text.strip() else ""
    separator = max(",;\t", key=first.count)
    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as error:
        raise TableError(str(path), f"it is not a CSV table ({error})", "save it as CSV in UTF-8") from error
    if not first or len(lines) < 2:
        raise TableError(str(path), "it holds no rows", f"begin it with the header {','.join(columns)}")
    header = [name.strip().lower() for name in lines[0]]
    numbered = [(number, line) for number, line in enumerate(lines[1:], start=2) if any(cell.strip() for cell in line)]
    return header, numbered


def write_table(path: Path, rows: Sequence[TableRow]) -> None:
    """Write the table beside its place and rename it, so that a reader never meets half of it.

    Raises
    ------
    OutputError : the file cannot be written
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with beside.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream, lineterminator="\n")
            writer.writerow(COLUMNS)
            writer.writerows([_write_cell(getattr(row, name)) for name in COLUMNS] for row in rows)
        os.replace(beside, path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise OutputError(str(path), f"it cannot be written ({error.strerror})", "choose another place") from error


def hash_table(path: Path) -> str:
    """SHA-256 of a table's file, to tell whether somebody has changed it; empty where there is none.

    Raises
    ------
    TableError : it is there, but cannot be read
    """
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return ""
    except OSError as error:
        raise TableError(str(path), f"it cannot be read ({error.strerror})", "name the table's file") from error


def _check_header(path: Path, header: list[str]) -> None:
    missing = [name for name in COLUMNS if name not in header and name not in _MAY_BE_MISSING]
    unknown = [name for name in header if name not in COLUMNS]
    if missing or unknown or len(set(header)) < len(header):
        what = f"columns missing: {', '.join(missing)}" if missing else f"unknown column {', '.join(unknown)}"
        if not missing and not unknown:
            what = "a column is there twice"
        raise TableError(f"{path}, row 1", what, f"the columns are {', '.join(COLUMNS)}")


def _read_row(path: Path, number: int, header: list[str], line: list[str]) -> TableRow:
    where = f"{path}, row {number}"
    if len(line) != len(header):
        what = f"it has {len(line)} cells, the header {len(header)}"
        raise TableError(where, what, "put text that holds the separator in quotes")
    cells = {**_MAY_BE_MISSING, **{name: cell.strip() for name, cell in zip(header, line, strict=True)}}
    cells["origin"] = cells["origin"] or "not known"
    values: dict[str, Any] = dict(cells)
    for name, words in WORDS.items():
        if cells[name] not in words:
            raise TableError(where, f"unknown {name} {cells[name]!r}", f"use one of: {', '.join(words)}")
    for name in ("body", "position"):
        text = cells[name]
        if text and not (text.isascii() and text.isdigit() and int(text) > 0):
            raise TableError(where, f"{name} {text!r} is not a whole number from 1", "correct it, or leave it empty")
        values[name] = int(text) if text else None
    return TableRow(**{name: values[name] for name in COLUMNS})


def _write_cell(value: object) -> str:
    return "" if value is None else str(value)
