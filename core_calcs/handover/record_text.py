"""Corrections and overrides in words: rows of a table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from ..document.record import Record
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..studies.mounted import list_moved
from .quantities import format_fixed
from .report_lines import Line


@dataclass(frozen=True)
class RecordLine:
    """One record as it is shown; what nobody has said is empty."""

    date: str
    time: str
    by: str
    kind: str
    elements: str
    what: str
    why: str
    evidence: str


def list_records(records: Sequence[Record]) -> tuple[RecordLine, ...]:
    """A line for each record, the oldest first."""
    return tuple(_tell_record(record) for record in records)


def _tell_record(record: Record) -> RecordLine:
    try:
        moment = datetime.fromisoformat(record.when)
        date, time = f"{moment:%Y-%m-%d}", f"{moment:%H:%M}"
    except ValueError:
        date, time = record.when, ""
    names = record.concerns
    kind = f"{record.kind}, {record.action}"
    return RecordLine(date, time, record.by, kind, names, record.what, record.why, record.evidence)


def list_mounted(skeleton: Skeleton, pose: Pose) -> tuple[Line, ...]:
    """Elements that stood elsewhere in a pose as mounted: centre off by [mm], turned by [°]."""
    lines = []
    for own in list_moved(skeleton, pose):
        far = 1000 * float(np.linalg.norm(own.shift_m))
        lines.append(Line((own.element, format_fixed(far, 1), format_fixed(math.degrees(own.angle_rad), 1))))
    return tuple(lines)
