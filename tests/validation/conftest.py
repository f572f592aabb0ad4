"""Outside check values: `check_value` holds a figure against its source and keeps a row for the validation list.

``python -m pytest tests/validation --validation-table build/validation.csv`` writes every row, those that fail
included, and prints them. What the tags mean is told in docs/validation.md.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable
from dataclasses import astuple, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest

TAGS = {
    "S": "read in the source named",
    "M": "from memory of the source named, not read: check before use",
    "D": "derived: closed form, evaluated in float64",
    "D+FE": "derived, and agrees with an independent frame model",
    "D+mesh": "derived, and agrees with an independent mesh library",
    "C": "common practice, no source",
}


@dataclass(frozen=True)
class CheckedValue:
    """One row of the validation list."""

    name: str
    source: str
    tag: str
    expected: str
    got: str
    tolerance: str
    verdict: str
    test: str


ROWS = pytest.StashKey[list[CheckedValue]]()
CheckValue = Callable[..., None]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--validation-table", default=None, metavar="CSV", help="write the checked values to this file")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if item.path.is_relative_to(here):
            item.add_marker(pytest.mark.validation)


@pytest.fixture
def check_value(request: pytest.FixtureRequest) -> CheckValue:
    """Assert that `got` is `expected` and keep the row, whether it is or not.

    Numbers and arrays of numbers are compared within `rel` (of the expected value) or `abs` (in its unit), whichever
    is wider, element by element; without either, and for anything else, they must be equal.
    """
    rows = request.config.stash.setdefault(ROWS, [])

    def check(
        name: str,
        source: str,
        tag: str,
        expected: Any,
        got: Any,
        rel: float | None = None,
        abs: float | None = None,
    ) -> None:
        if tag.strip("[]") not in TAGS:
            raise ValueError(f"{name}: tag {tag!r} is none of {', '.join(TAGS)}")
        holds = _agrees(expected, got, rel or 0.0, abs or 0.0)
        tolerance = "; ".join(f"{v:g} {kind}" for v, kind in ((rel, "relative"), (abs, "absolute")) if v) or "equal"
        verdict = "holds" if holds else "fails"
        row = (name, source, tag.strip("[]"), _text(expected), _text(got), tolerance, verdict, request.node.nodeid)
        rows.append(CheckedValue(*row))
        assert holds, f"{name}: expected {_text(expected)}, got {_text(got)} ({tolerance}; {source} [{tag}])"

    return check


def _agrees(expected: Any, got: Any, rel: float, absolute: float) -> bool:
    if expected is None or got is None or isinstance(expected, str | bool):
        return type(expected) is type(got) and expected == got
    want, have = np.asarray(expected, float), np.asarray(got, float)
    if want.shape != have.shape:
        return False
    return bool(np.all(np.abs(have - want) <= np.maximum(rel * np.abs(want), absolute)))


def _text(value: Any) -> str:
    if value is None or isinstance(value, str | bool):
        return str(value)
    return "; ".join(f"{v:.12g}" for v in np.ravel(np.asarray(value, float)))


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    rows = config.stash.get(ROWS, [])
    # The option is unknown where this file was found only while collecting a wider run.
    target = config.getoption("validation_table", default=None)
    if not rows:
        return
    failed = sum(row.verdict != "holds" for row in rows)
    terminalreporter.write_sep("=", f"outside values: {len(rows)} checked, {failed} fail")
    if target is not None:
        _write_table(rows, Path(target))
        terminalreporter.write(_print_table(rows, terminalreporter._tw.fullwidth))
        terminalreporter.write_line(f"written to {target}")


def _write_table(rows: list[CheckedValue], target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    beside = target.with_name(target.name + ".part")
    with beside.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow([field.name for field in fields(CheckedValue)])
        writer.writerows(astuple(row) for row in rows)
    os.replace(beside, target)


def _print_table(rows: list[CheckedValue], width: int) -> str:
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold")
    for column, ratio in (("name", 5), ("source", 5), ("tag", None), ("expected", 3), ("got", 3), ("verdict", None)):
        table.add_column(column, ratio=ratio, overflow="fold", no_wrap=ratio is None)
    for row in rows:
        table.add_row(row.name, row.source, row.tag, _shorten(row.expected), _shorten(row.got), row.verdict)
    page = io.StringIO()
    Console(file=page, width=width, emoji=False, markup=False).print(table)
    return page.getvalue()


def _shorten(text: str, shown: int = 4) -> str:
    """The first of many values: the file holds them all."""
    values = text.split("; ")
    return text if len(values) <= shown + 2 else f"{'; '.join(values[:shown])} … ({len(values)} values)"
