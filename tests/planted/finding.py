"""Whether the survey finds what was planted, and nothing else.

What was planted is told by the generator's expected.json (demo_blend/strider/faults.py), which shares nothing with the
survey; here stands only in which words the survey should tell it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from core_calcs.skeleton.table import read_table
from core_calcs.studies.problems import (
    Problem,
    describe_mesh,
    find_problems,
    list_contradictions,
    list_mesh_problems,
    list_table_problems,
)
from core_calcs.studies.survey import survey_folder

TOLD_AS = {
    "missing": ("position", "no element at position"),
    "missing, numbered on": ("gap", "room for 1 more"),
    "end for end": ("orientation", "end for end"),
    "upside down": ("orientation", "upside down"),
    "exchanged": ("order", "in each other's place"),
    "sides swapped in place": ("side", "fit better in each other's place"),
    "sides swapped": ("side", "to the right of the mid-plane"),
    "one side twice": ("side", "moved across"),
    "scaled": ("size", "times as large"),
    "mirrored": ("origin", "exact mirror image"),
    "displaced": ("place", "stands"),
    "named twice": ("table", "is already in row"),
    "inches": ("unit", "in inches it measures"),
    "hole": ("mesh", "open"),
    "inside out": ("mesh", "inside out"),
    "mixed winding": ("mesh", "mixed winding"),
    "doubled": ("mesh", "doubled surface"),
    "loose pieces": ("mesh", "several bodies"),
    "truncated": ("mesh", "truncated"),
    "not a number": ("mesh", "not finite"),
    "collapsed": ("mesh", "collapsed"),
    "empty": ("mesh", "0 bytes"),
    "duplicate": ("mesh", "duplicate of"),
}
"""Kind of problem and words of it, by kind of fault."""


@dataclass(frozen=True)
class Outcome:
    """missed : faults, in words; false : problems that nothing was planted for, in words; planted : how many faults"""

    planted: int
    missed: tuple[str, ...]
    false: tuple[str, ...]


def judge_set(folder: Path) -> Outcome:
    """Survey a set that make_strider.py wrote, sound or faulty, and hold the problems against its expected.json."""
    faults = json.loads((folder / "expected.json").read_text(encoding="utf-8")).get("faults", [])
    problems = list_problems(folder)
    missed = [f"{f['kind']}: {f['element'] or f['file']}" for f in faults if not any(_tells(p, f) for p in problems)]
    concerned = {name for f in faults for name in (f["element"], f["file"], *f["others"])} - {""}
    false = [f"{p.kind}: {p.where}: {p.what}" for p in problems if not concerned & {p.element, p.where}]
    return Outcome(len(faults), tuple(missed), tuple(false))


def list_problems(folder: Path) -> list[Problem]:
    """Everything that the survey tells of a folder and its table, by element, and by file where no row names it."""
    rows = read_table(folder / "elements.csv")
    survey = survey_folder(folder / "scans", "mm")
    meshes = [describe_mesh(survey, row) for row in rows]
    named = {row.file for row in rows}
    files = [problem for problem in list_mesh_problems(survey) if problem.where not in named]
    return [*list_table_problems(rows, meshes, find_problems(rows, survey)), *list_contradictions(rows), *files]


def _tells(problem: Problem, fault: dict) -> bool:
    kind, words = TOLD_AS[fault["kind"]]
    concerned = {fault["element"], fault["file"], *fault["others"]} - {""}
    return problem.kind == kind and words in problem.what and bool(concerned & {problem.element, problem.where})
