"""Poses beside each other as bars: margin, base moment, the greatest moments of neck and tail."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..studies.comparison import ComparedRow
from .figure_names import shorten_name
from .quantities import NOT_KNOWN, choose_unit, format_column
from .state_marks import BLUE, INK
from .svg import figure_style, figure_to_svg

SHOWN = ("Margin", "Base moment", "Neck moment", "Tail moment")
"""Measures that are drawn."""

_WIDTH_IN, _ROW_IN, _NAMES = 7.08, 0.19, 0.17
_OUTSIDE = "#D55E00"


def draw_compared(poses: Sequence[str], rows: Sequence[ComparedRow], name: str) -> str:
    """Bars of the measures, a line a pose; a margin outside the feet goes to the left, hatched.

    Parameters
    ----------
    poses : their names, one at least
    name : unique on the page
    """
    shown = [row for row in rows if row.name in SHOWN]
    height = len(poses) * _ROW_IN + 0.3
    share = len(poses) * _ROW_IN / height
    with figure_style():
        figure = Figure(figsize=(_WIDTH_IN, height), facecolor="none")
        wide = (1 - _NAMES) / len(shown)
        for i, row in enumerate(shown):
            box = (_NAMES + i * wide, 0.04 / height, 0.80 * wide, share)
            axes = figure.add_axes(box, facecolor="none")
            _draw_measure(axes, row)
            labels = [shorten_name(pose) for pose in poses] if i == 0 else [""] * len(poses)
            axes.set_yticks(np.arange(len(poses)), labels)
        return figure_to_svg(figure, name, "Margin, base moment, moments of neck and tail of each pose, as bars")


def _draw_measure(axes: Axes, row: ComparedRow) -> None:
    known = [value for value in row.values if value is not None]
    unit, scale = choose_unit(known, row.unit)
    values = [None if value is None else value * scale for value in row.values]
    greatest = max((abs(value) for value in values if value is not None), default=0.0) or 1.0
    least = min((value for value in values if value is not None), default=0.0)
    for at, (value, text) in enumerate(zip(values, format_column(values), strict=True)):
        if value is None:
            none = row.lacks or NOT_KNOWN
            axes.text(0.02 * greatest, at, none, va="center", fontsize=6.5, color="#5F6670", style="italic")
            continue
        outside = value < 0
        fill, edge, hatch = ("white", _OUTSIDE, "//////") if outside else ("#7aa6c8", BLUE, "")
        axes.barh(at, value, height=0.6, linewidth=0.6, color=fill, edgecolor=edge, hatch=hatch)
        axes.text(max(value, 0.0) + 0.03 * greatest, at, text, va="center", fontsize=6.5, color=INK)
    axes.axvline(0, color="#555555", linewidth=0.5)
    axes.set_xlim(min(least, 0.0) * 1.05, 1.35 * greatest)
    axes.set_ylim(len(values) - 0.5, -0.5)
    axes.set_title(f"{row.name} [{unit}]", fontsize=7.5, loc="left", color="#333333", pad=3)
    axes.set_xticks([])
    axes.tick_params(axis="y", length=0)
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)
