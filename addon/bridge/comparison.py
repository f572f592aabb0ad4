"""Saved poses side by side, in words: a line for each measure, its unit at the head, best and worst told."""

from __future__ import annotations

from dataclasses import dataclass

import bpy

from ..core_calcs.studies.comparison import ComparedRow, compare_poses, rank_as_read
from .figures import drawn_measures
from .units import Units, scene_units, word_column

FEWEST, MOST = 2, 6
"""So many poses stand side by side."""

NOTES = "Poses side by side"
"""Name of the text block."""


@dataclass(frozen=True)
class ComparedLine:
    """One measure. head : with its unit; cells, places : of each pose; best, worst : indices of poses."""

    head: str
    cells: tuple[str, ...]
    places: tuple[str, ...]
    best: tuple[int, ...]
    worst: tuple[int, ...]


@dataclass(frozen=True)
class ComparedPoses:
    """The poses compared, each with the state of its worst check."""

    poses: tuple[str, ...]
    states: tuple[str, ...]
    lines: tuple[ComparedLine, ...]


def list_checked(scene: bpy.types.Scene) -> list[str]:
    """Names of the saved poses that are checked in the list."""
    return [row.name for row in scene.counterpoise.poses if row.compared]


def compare_checked(scene: bpy.types.Scene) -> ComparedPoses | None:
    """The checked poses that could be studied, side by side; None where these are fewer than two."""
    known = drawn_measures(scene)
    measured = [known[name] for name in list_checked(scene) if name in known][:MOST]
    if len(measured) < FEWEST:
        return None
    units = scene_units(scene)
    lines = tuple(_word_row(row, units) for row in compare_poses(measured))
    return ComparedPoses(tuple(own.pose for own in measured), tuple(own.state for own in measured), lines)


def _word_row(row: ComparedRow, units: Units) -> ComparedLine:
    unit, cells = word_column(row.values, row.unit, units)
    if row.lacks:
        return ComparedLine(row.name, (row.lacks,) * len(cells), row.places, (), ())
    ranked = rank_as_read(row, cells)
    return ComparedLine(f"{row.name} [{unit}]" if unit else row.name, cells, row.places, ranked.best, ranked.worst)


def write_comparison(compared: ComparedPoses) -> None:
    """Write the table into its text block, in columns, best and worst in words."""
    rows = [("", *compared.poses), ("State", *compared.states)]
    for line in compared.lines:
        marks = ["best" if i in line.best else "worst" if i in line.worst else "" for i in range(len(line.cells))]
        cells = zip(line.cells, marks, line.places, strict=True)
        rows.append((line.head, *(", ".join(part for part in cell if part) for cell in cells)))
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    text = bpy.data.texts.get(NOTES) or bpy.data.texts.new(NOTES)
    lines = ("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows)
    text.from_string("\n".join(lines) + "\n")
