"""Tables as CSV and JSON: heads carry the units, `not known` is written out in CSV and null in JSON."""

from __future__ import annotations

import csv
import dataclasses
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from .quantities import NOT_KNOWN

Cell = str | int | float | None


@dataclass(frozen=True)
class DataTable:
    """Rows under heads that carry their units; None is `not known`.

    name : of the files, without suffix
    """

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def table_of(name: str, rows: Sequence[Mapping[str, Cell]], heads: Sequence[str] = ()) -> DataTable:
    """A table of rows that are given by head.

    heads : needed where there may be no rows
    """
    columns = tuple(heads) or tuple(rows[0])
    return DataTable(name, columns, tuple(tuple(row[head] for head in columns) for row in rows))


def vector_cells(name: str, unit: str, values: Sequence[float] | np.ndarray | None) -> dict[str, Cell]:
    """The x, y, z cells of a vector (3,), `not known` where there is none."""
    known = [None] * 3 if values is None else [float(value) for value in values]
    return {f"{name}_{axis}_{unit}": value for axis, value in zip("xyz", known, strict=True)}


def write_table(folder: Path, table: DataTable) -> None:
    """Write a table as `name.csv` (RFC 4180, UTF-8) and `name.json` (a list of objects, full precision)."""
    with (folder / f"{table.name}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(table.heads)
        writer.writerows([_csv_cell(cell) for cell in row] for row in table.rows)
    write_json(folder / f"{table.name}.json", [dict(zip(table.heads, row, strict=True)) for row in table.rows])


def write_json(path: Path, value: Any) -> None:
    """Write a value of dataclasses, arrays, sequences and mappings as JSON; what is not finite becomes null."""
    text = json.dumps(plain_value(value), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    path.write_text(text, encoding="utf-8", newline="\n")


def plain_value(value: Any) -> Any:
    """The same as dictionaries, lists, text, numbers and None."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain_value(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain_value(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return plain_value(value.tolist())
    if isinstance(value, Sequence) and not isinstance(value, (str, bytes)):
        return [plain_value(item) for item in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    return value


def _csv_cell(cell: Cell) -> str | int:
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return NOT_KNOWN
    return f"{cell:.10g}" if isinstance(cell, float) else cell
