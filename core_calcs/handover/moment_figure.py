"""The moments along neck, trunk and tail."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..skeleton.element import Series
from ..spatial.transforms import Array
from ..studies.assessment import JointLoad
from .figure_names import LABEL_PT, MOST_LABELS, list_runs, shorten_name
from .quantities import choose_unit
from .state_marks import BLUE, INK, ORANGE
from .svg import figure_style, figure_to_svg

_WIDTH_IN, _PANEL_IN = 7.08, 1.85


def resultant_bending(load: JointLoad) -> float:
    """Bending moment of a joint, of both axes together [N m]; not a number where it is not known."""
    return float("nan") if load.bending_Nm is None else float(np.hypot(*load.bending_Nm))


def draw_moments(loads: Sequence[JointLoad], series: Sequence[Series], name: str) -> str:
    """Bending and torsion at the joints along the column, in the order given, from the left.

    Parameters
    ----------
    loads : at least one
    series : of each joint's child
    name : unique on the page
    """
    bending = np.array([resultant_bending(load) for load in loads])
    torsion = np.array([np.nan if load.torsion_Nm is None else abs(load.torsion_Nm) for load in loads])
    unit, scale = choose_unit([*bending, *torsion], "N·m")
    shared = np.array([load.moment_range_Nm is not None for load in loads])
    at = np.arange(len(loads), dtype=float)
    with figure_style():
        labels = [shorten_name(load.child) for load in loads]
        # Names stand upright below the panel: about 0.62 of the letters' height to a letter.
        below = max(len(label) for label in labels) * 0.62 * LABEL_PT / 72 + 0.36
        height = _PANEL_IN + below + 0.24
        figure = Figure(figsize=(_WIDTH_IN, height), facecolor="none")
        axes = figure.add_axes((0.075, below / height, 0.915, _PANEL_IN / height), facecolor="none")
        top = np.nanmax(np.append(np.concatenate([bending, torsion]) * scale, 0.0)) or 1.0
        axes.set_xlim(-0.8, len(loads) - 0.2)
        axes.set_ylim(0, 1.1 * top)
        axes.grid(axis="y", color="#dddddd", linewidth=0.5)
        axes.set_axisbelow(True)
        _mark_series(axes, series)
        axes.fill_between(at, bending * scale, color="#0072B21c", linewidth=0)
        axes.plot(at, bending * scale, color=BLUE, label="bending, both axes together")
        _put_markers(axes, at, bending * scale, shared, "o", BLUE, 3.4)
        axes.plot(at, torsion * scale, color=ORANGE, linestyle=(0, (4, 1.5)), label="torsion, without its sign")
        _put_markers(axes, at, torsion * scale, shared, "D", ORANGE, 2.9)
        if shared.any():
            hollow: dict[str, Any] = {
                "linestyle": "none",
                "marker": "o",
                "markerfacecolor": "white",
                "markeredgecolor": INK,
            }
            axes.plot([], [], markersize=3.4, label="hollow: rests on how the feet share the load", **hollow)
        every = -(-len(loads) // MOST_LABELS)
        axes.set_xticks(at[::every], labels[::every], rotation=90, fontsize=LABEL_PT)
        axes.set_ylabel(f"moment [{unit}]")
        figure.legend(loc="lower center", ncols=3, bbox_to_anchor=(0.53, -0.02))
        return figure_to_svg(figure, name, "Bending and torsion at the joints along neck, trunk and tail")


def _put_markers(axes: Axes, at: Array, values: Array, shared: Array, marker: str, colour: str, size: float) -> None:
    for hollow in (False, True):
        chosen = shared == hollow
        look: dict[str, Any] = {
            "markerfacecolor": "white" if hollow else colour,
            "markeredgecolor": colour,
            "markeredgewidth": 0.8,
        }
        axes.plot(at[chosen], values[chosen], linestyle="none", marker=marker, markersize=size, **look)


def _mark_series(axes: Axes, series: Sequence[Series]) -> None:
    """The parts of the column above the figure, with a line between them."""
    for start, end, name in list_runs(series):
        if start:
            axes.axvline(start - 0.5, color="#bbbbbb", linewidth=0.6)
        if (end - start) / len(series) > 0.03:
            where = axes.get_xaxis_transform()
            axes.text((start + end - 1) / 2, 1.03, name, transform=where, ha="center", fontsize=7, color=INK)
