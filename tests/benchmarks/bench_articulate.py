"""The search for the joints of the dog's vertebral column: from nothing, from the cache, and how it grows."""

from __future__ import annotations

import os
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from core_calcs.mesh.records import Survey
from core_calcs.skeleton.proposal import propose_table
from core_calcs.skeleton.table import TableRow
from core_calcs.studies.articulate import articulate
from core_calcs.studies.joint_cache import JointCache
from core_calcs.studies.survey import survey_folder

BONES = Path(__file__).parents[2] / ".cache" / "dog"
ALLOWED_S = 90.0
"""What the whole column may take on two cores: samples, grids, facets, joints, limits, envelopes."""
WORKERS = 2


def run() -> list[dict[str, Any]]:
    """Wall times once, so that the machine has to be idle; processor time and load tell where it is not."""
    survey = survey_folder(BONES, "m")
    rows = propose_table(survey)
    known = [row for row in rows if row.attachment in ("root", "column")]
    # The half: the root and what lies within so many joints of it.
    half = _take_near(known, len(known) // 2)
    with tempfile.TemporaryDirectory() as folder:
        cache = JointCache(Path(folder))
        whole = _time(known, survey, WORKERS, cache)
        second = JointCache(Path(folder))
        again = _time(known, survey, WORKERS, second)
    less, alone = _time(half, survey, WORKERS), _time(half, survey, 1)
    count, few = len(known) - 1, len(half) - 1
    one = f"{alone[1]:.1f} s of processor time by one"
    a_joint = f"{whole[1] / count:.2f} s of processor time a joint, {less[1] / few:.2f} s of {few}"
    return [
        _row(f"column, {count} joints, {WORKERS} workers", whole, "time allowed", ALLOWED_S, a_joint),
        _row("the same again, from the cache", again, "from nothing", whole[0], second.describe()),
        _row(f"{few} joints, {WORKERS} workers", less, "one worker", alone[0], one),
    ]


def _take_near(rows: list[TableRow], count: int) -> list[TableRow]:
    taken = {row.element: row for row in rows if row.attachment == "root"}
    while len(taken) < count:
        joining = [row for row in rows if row.parent in taken and row.element not in taken]
        taken |= {row.element: row for row in joining}
    return [replace(row) for row in taken.values()]


def _time(
    rows: list[TableRow], survey: Survey, workers: int, cache: JointCache | None = None
) -> tuple[float, float, float]:
    """Wall time, processor time of this process and the workers [s], and the load of the machine."""
    begun, spent = time.perf_counter(), os.times()
    skeleton = articulate(rows, survey, BONES, "column", cache=cache, workers=workers)
    wall, after = time.perf_counter() - begun, os.times()
    assert sum(joint.envelope is not None for joint in skeleton.joints) >= len(rows) // 2
    return wall, sum(after[:4]) - sum(spent[:4]), os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0


def _row(name: str, taken: tuple[float, float, float], peer: str, peer_s: float, note: str) -> dict[str, Any]:
    wall, processor, load = taken
    told = f"{processor:.1f} s of processor time, load {load:.1f}; {note}"
    return {"name": name, "ours_s": wall, "peer": peer, "peer_s": peer_s, "ratio": wall / peer_s, "note": told}
