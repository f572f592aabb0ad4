"""Records of what was put right or set by hand: made as the document changes, told in words, and their rows.

The rows mirror the document as those of poses do: written by operators and by the timer, never by a handler.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import bpy

from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.record import Record
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.corrections import last_correction
from ..core_calcs.studies.overrides import record_overrides
from ..translations.phrases import say
from .figures import drawn_joints
from .kept_document import keep_document


@dataclass(frozen=True)
class RecordFigure:
    """A record in words."""

    title: str
    kind: str
    what: str
    why: str
    evidence: str
    by: str
    when: str


def note_overrides(scene: bpy.types.Scene, before: SkeletonDocument, after: SkeletonDocument) -> SkeletonDocument:
    """The later document with a record of everything set by hand since the earlier one."""
    return record_overrides(before, after, scene.counterpoise.recorded_by, tell_time())


def draft_record(scene: bpy.types.Scene, why: str) -> Record:
    """Why, by whom and when a correction is made; what it does is filled in by the core."""
    return Record("correction", "turned", (), "", why, "", scene.counterpoise.recorded_by.strip(), tell_time())


def tell_time() -> str:
    """UTC, as records have it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def mirror_records(scene: bpy.types.Scene) -> None:
    """Make the rows those of the scene's document, the newest first; where they are already nothing is written."""
    settings, wanted = scene.counterpoise, _list_wanted(scene)
    rows = settings.records
    if [(row.name, row.kind, row.counts) for row in rows] != wanted:
        rows.clear()
        for own in wanted:
            row = rows.add()
            row.name, row.kind, row.counts = own
        settings.record_index = 0


def title_record(record: Record) -> str:
    """What was done, and to which elements."""
    return f"{record.action[:1].upper()}{record.action[1:]}: {record.concerns}"


def show_record(scene: bpy.types.Scene) -> RecordFigure | None:
    """The record whose row is selected, as the document was last read; None where there is none."""
    kept, _ = drawn_joints(scene)
    records = kept.document.records[::-1] if kept is not None else ()
    at = scene.counterpoise.record_index
    return word_record(records[at]) if 0 <= at < len(records) else None


def word_record(record: Record) -> RecordFigure:
    """A record in words."""
    when = record.when.replace("T", " ").removesuffix("Z") + " UTC"
    nobody = say("not given")
    told = (record.what, record.why or nobody, record.evidence or nobody, record.by or nobody)
    return RecordFigure(title_record(record), record.kind, *told, when)


def last_title(scene: bpy.types.Scene) -> str:
    """The last correction that still counts; empty where none does."""
    return next((row.name for row in scene.counterpoise.records if row.counts), "")


def _list_wanted(scene: bpy.types.Scene) -> list[tuple[str, str, bool]]:
    """Title, kind and whether it is the last correction that still counts, of each record."""
    if scene.counterpoise.document is None:
        return []
    try:
        document = keep_document(scene).document
    except CounterpoiseError:  # the figures tell what is wrong with the document
        return []
    last = last_correction(document)
    return [(title_record(own), own.kind, own is last) for own in reversed(document.records)]
