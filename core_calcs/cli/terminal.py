"""What the commands say: results on standard output, progress and errors on standard error."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, TextIO

from rich import box
from rich.console import Console
from rich.progress import BarColumn, TaskProgressColumn, TextColumn
from rich.progress import Progress as ProgressBar
from rich.table import Table
from rich.text import Text

from ..spatial.progress import Progress

PIPE_WIDTH = 400
"""Columns where standard output is no terminal: nothing is wrapped for a file or another program."""

_PLAIN_SIGNS = str.maketrans(
    {"−": "-", "±": "+/-", "°": " deg", "·": "*", "–": "-", "…": "...", "\u202f": " ", "³": "3", "²": "2"}
    | {"●": "+", "▲": "~", "✕": "x", "⁻": "^-"}
    | dict(zip("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789", strict=True))
)


@dataclass(frozen=True)
class Terminal:
    """Where a command writes to.

    as_json : the result goes out as JSON, and nothing else to standard output
    """

    out: Console
    err: Console
    as_json: bool

    def show_line(self, text: str = "", style: str = "") -> None:
        """A line of text on standard output."""
        if not self.as_json:
            self.out.print(Text(self._fit(text), style=style), soft_wrap=True)

    def show_table(self, heads: Sequence[str], rows: Sequence[Sequence[str | Text]], right: Sequence[int] = ()) -> None:
        """A table on standard output; the columns numbered in `right` are set to the right."""
        if self.as_json:
            return
        table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
        for i, head in enumerate(heads):
            table.add_column(Text(self._fit(head)), justify="right" if i in right else "left", overflow="fold")
        for row in rows:
            table.add_row(
                *(Text(self._fit(str(cell)), style=cell.style if isinstance(cell, Text) else "") for cell in row)
            )
        if self.out.is_terminal:
            self.out.print(table)
            return
        with self.out.capture() as lines:
            self.out.print(table)
        self.out.file.write("".join(f"{line.rstrip()}\n" for line in lines.get().splitlines()))

    def show_result(self, result: Any) -> None:
        """The result as JSON, in plain ASCII so that it survives every locale; only where JSON was asked for."""
        if self.as_json:
            self.out.file.write(json.dumps(result, indent=2, ensure_ascii=True, allow_nan=False) + "\n")
            self.out.file.flush()

    @contextmanager
    def show_progress(self) -> Iterator[Progress]:
        """A bar on a terminal, else a plain line for each tenth of the work; both on standard error."""
        if self.err.is_terminal:
            columns = (TextColumn("{task.description}", markup=False), BarColumn(), TaskProgressColumn())
            with ProgressBar(*columns, console=self.err, transient=True) as bar:
                task = bar.add_task("", total=1.0)
                yield lambda doing, share: bar.update(task, description=doing, completed=share)
        else:
            yield _PlainLines(self.err).show

    def _fit(self, text: str) -> str:
        try:
            text.encode(self.out.encoding)
        except (UnicodeEncodeError, LookupError):
            return text.translate(_PLAIN_SIGNS)
        return text


class _PlainLines:
    """Progress as lines: the first, and one whenever another tenth is done."""

    def __init__(self, console: Console) -> None:
        self.console, self.tenth = console, -1

    def show(self, doing: str, share: float) -> None:
        tenth = int(share * 10)
        if tenth != self.tenth:
            self.tenth = tenth
            self.console.print(Text(f"{tenth * 10:3d} % {doing}"), soft_wrap=True)


def make_terminal(as_json: bool) -> Terminal:
    """Consoles on the present standard streams; what a stream's encoding lacks is written as an escape, not refused."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    return Terminal(_make_console(sys.stdout), _make_console(sys.stderr), as_json)


def _make_console(stream: TextIO) -> Console:
    console = Console(file=stream, highlight=False, markup=False, emoji=False)
    if not console.is_terminal:
        console.width = PIPE_WIDTH
    return console
