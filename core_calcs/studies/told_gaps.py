"""Gaps of a column's joints as the user says them: one figure, or a wedge's ventral and dorsal height; and tables."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from ..articulation.disc_spacing import require_thickness
from ..articulation.rim_heights import RimHeights
from ..skeleton.table import read_cells
from ..spatial.errors import SkeletonError, TableError

GAP_COLUMNS = ("joint", "gap_mm", "ventral_mm", "dorsal_mm", "gap_share", "ventral_share", "dorsal_share")
"""Of a table of gaps; shares are of the joint's size s."""
_WAYS = (("gap_mm",), ("ventral_mm", "dorsal_mm"), ("gap_share",), ("ventral_share", "dorsal_share"))
GapUnit = Literal["mm", "share"]


@dataclass(frozen=True)
class ToldGap:
    """Between two end plates: one figure, or two, at the ventral and at the dorsal rim.

    figures : one, the mean; or two, ventral first; unit : "m", or "share" of the joint's size s
    """

    figures: tuple[float, ...]
    unit: Literal["m", "share"] = "m"


def measure_gap(child: str, told: ToldGap, size_m: float) -> float | RimHeights:
    """The gap of a joint whose size s is known [m].

    Raises
    ------
    SkeletonError : no one or two figures, or one that no disc has
    """
    lengths = [figure * (size_m if told.unit == "share" else 1.0) for figure in told.figures]
    for length in lengths:
        require_thickness(child, length, size_m)
    if len(lengths) == 1:
        return lengths[0]
    if len(lengths) != 2:
        what = f"{len(lengths)} figures are given for its gap"
        raise SkeletonError(f"joint of {child}", what, "give one, or two: the ventral and the dorsal height")
    return RimHeights(*lengths)


def read_gap(where: str, text: str, unit: GapUnit) -> ToldGap:
    """A gap from its text: `3.5`, or `3.5/5` for the ventral and the dorsal height.

    Raises
    ------
    SkeletonError : a figure is missing, negative or none
    """
    parts = text.split("/")
    if len(parts) > 2:
        remedy = "give one figure, or two: VENTRAL/DORSAL"
        raise SkeletonError(where, f"{text!r} gives more than two figures for its gap", remedy)
    names = ("gap",) if len(parts) == 1 else ("ventral height", "dorsal height")
    return _take_figures(where, dict(zip(names, parts, strict=True)), unit)


def read_gap_table(path: Path) -> Mapping[str, ToldGap]:
    """Gaps by child from a table (CSV, UTF-8): a column `joint`, and of `GAP_COLUMNS` those that are used.

    Each row says its gap one way: gap_mm, ventral_mm with dorsal_mm, or one of these as shares of s.

    Raises
    ------
    TableError : the file cannot be read as such a table, or a joint is in it twice
    SkeletonError : a joint's gap is said in no way or in two, a height is missing, or a figure is none
    """
    header, lines = read_cells(path, GAP_COLUMNS)
    unknown = [name for name in header if name not in GAP_COLUMNS]
    if unknown or "joint" not in header or len(set(header)) < len(header):
        what = f"unknown column {', '.join(unknown)}" if unknown else "no column joint, or a column twice"
        raise TableError(f"{path}, row 1", what, f"the columns are {', '.join(GAP_COLUMNS)}; joint is needed")
    found: dict[str, ToldGap] = {}
    for number, line in lines:
        if len(line) != len(header):
            what = f"it has {len(line)} cells, the header {len(header)}"
            raise TableError(f"{path}, row {number}", what, "write a point in figures, not a comma")
        cells = {name: cell.strip() for name, cell in zip(header, line, strict=True)}
        child = cells.pop("joint")
        if not child or child in found:
            what = f"{child} is in it twice" if child else "it names no joint"
            raise TableError(f"{path}, row {number}", what, "name each joint once, by the element that hangs on it")
        found[child] = _read_row(f"joint of {child} ({path}, row {number})", cells)
    return found


def _read_row(where: str, cells: Mapping[str, str]) -> ToldGap:
    ways = [way for way in _WAYS if any(cells.get(name) for name in way)]
    if len(ways) != 1:
        what = "its gap is given in two ways" if ways else "no gap is given for it"
        raise SkeletonError(where, what, "fill in gap_mm, or ventral_mm and dorsal_mm, or the same as shares")
    names = ways[0]
    unit: GapUnit = "mm" if names[0].endswith("mm") else "share"
    return _take_figures(where, {name: cells.get(name, "") for name in names}, unit)


def _take_figures(where: str, texts: Mapping[str, str], unit: GapUnit) -> ToldGap:
    figures = []
    for name, text in texts.items():
        if not text.strip():
            what = f"its {name} is missing"
            raise SkeletonError(where, what, "give both heights" if len(texts) > 1 else "give a figure")
        try:
            figure = float(text)
        except ValueError:
            figure = math.nan
        if not (math.isfinite(figure) and figure >= 0):
            remedy = "write millimetres, 0 or more: 3.5, or 3.5/5 for the ventral and the dorsal height"
            if unit == "share":
                remedy = "write shares of s, 0 or more: 0.05, or 0.04/0.06 for the ventral and the dorsal height"
            raise SkeletonError(where, f"its {name}, {text.strip()!r}, is no gap", remedy)
        figures.append(figure / 1000 if unit == "mm" else figure)
    return ToldGap(tuple(figures), "m" if unit == "mm" else "share")
