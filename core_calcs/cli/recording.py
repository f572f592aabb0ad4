"""Writing a document with records of what was set by hand in it; and what `counterpoise records` does."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from ..document.document import SkeletonDocument
from ..document.reading import read_document, write_document
from ..document.record import Record
from ..handover.tables import plain_value
from ..studies.overrides import record_overrides
from .terminal import Terminal


def tell_time() -> str:
    """Now, in UTC, as records have it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def write_recorded(path: Path, before: SkeletonDocument, after: SkeletonDocument, by: str, why: str = "") -> None:
    """Write the later document, with records of what was set by hand since the earlier one; see `write_document`."""
    write_document(path, record_overrides(before, after, by, tell_time(), why))


def run_records(terminal: Terminal, document_path: Path) -> None:
    """Show every record of a document, the oldest first."""
    records = read_document(document_path).records
    heads = ("when", "by", "what", "of", "done", "why")
    terminal.show_table(heads, [_make_row(record) for record in records])
    for record in records:
        if record.evidence:
            terminal.show_line()
            terminal.show_line(f"{record.concerns}, {record.action}: {record.evidence}")
    if not records:
        terminal.show_line("Nothing was put right, set by hand or made: there are no records.")
    terminal.show_result({"document": str(document_path), "records": plain_value(records)})


def _make_row(record: Record) -> tuple[str, ...]:
    when = record.when.replace("T", " ").replace("Z", " UTC")
    return (when, record.by or "not given", record.action, record.concerns, record.what, record.why)
