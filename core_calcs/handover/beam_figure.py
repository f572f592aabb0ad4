"""A chain as a beam: shear, bending and torsion at its joints by length along it."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..spatial.transforms import Array
from ..studies.beams import Beam
from .figure_names import shorten_name
from .quantities import choose_unit, format_quantity
from .state_marks import BLUE, INK, ORANGE
from .svg import figure_style, figure_to_svg

_WIDTH_IN, _PANEL_IN = 7.08, 1.25
_LOOKS: tuple[tuple[str, Any, str], ...] = ((BLUE, "-", "o"), (ORANGE, (0, (4, 1.5)), "D"))
"""Colour, dash and marker of the first and the second curve of a panel."""

_LETTER_PT = 3.9
"""Mean width of a letter of a peak's label."""


def draw_beam(beam: Beam, name: str) -> str | None:
    """Three panels to one length; None where nothing of the chain is known.

    name : unique on the page
    """
    panels = (
        ("shear", "N", ((beam.shear_N[:, 1], "normal"), (beam.shear_N[:, 0], "sideways"))),
        ("bending", "N·m", ((beam.bending_Nm[:, 0], "up and down"), (beam.bending_Nm[:, 1], "sideways"))),
        ("torsion", "N·m", ((beam.torsion_Nm, "about the chain"),)),
    )
    if np.isnan(beam.torsion_Nm).all():
        return None
    height = _PANEL_IN + 0.75
    with figure_style():
        figure = Figure(figsize=(_WIDTH_IN, height), facecolor="none")
        for i, (title, unit, curves) in enumerate(panels):
            where = (0.068 + 0.33 * i, 0.50 / height, 0.252, _PANEL_IN / height)
            axes = figure.add_axes(where, facecolor="none")
            _draw_panel(axes, beam, title, unit, curves)
        return figure_to_svg(figure, name, f"Shear, bending and torsion along {beam.name}")


def _draw_panel(axes: Axes, beam: Beam, title: str, unit: str, curves: tuple[tuple[Array, str], ...]) -> None:
    every = np.concatenate([values for values, _ in curves])
    shown, scale = choose_unit(every.tolist(), unit)
    axes.axhline(0, color=INK, linewidth=0.8, zorder=2)
    axes.grid(axis="y", color="#dddddd", linewidth=0.5)
    axes.set_axisbelow(True)
    for (values, label), (colour, dash, marker) in zip(curves, _LOOKS, strict=False):
        axes.plot(beam.station_m, values * scale, color=colour, linestyle=dash, label=label, zorder=3)
        for hollow in (False, True):
            own = beam.shared == hollow
            face = "white" if hollow else colour
            axes.plot(
                beam.station_m[own], values[own] * scale, linestyle="none", marker=marker, markersize=2.6,
                markerfacecolor=face, markeredgecolor=colour, markeredgewidth=0.7, zorder=4,
            )  # fmt: skip
    axes.set_title(f"{title} [{shown}]", fontsize=7.5, color=INK, pad=4, loc="left")
    axes.set_xlabel("length along the chain [m]")
    axes.locator_params(nbins=5)
    axes.margins(0.06, 0.26)
    axes.legend(
        loc="upper center", bbox_to_anchor=(0.5, -0.24), ncols=2, fontsize=6.5, handlelength=1.8, columnspacing=1.0
    )
    _label_peak(axes, beam, [values for values, _ in curves], unit, scale)


def find_peak(values: Array) -> int | None:
    """Index of the greatest magnitude; None where none is known, or all are nothing."""
    sizes = np.abs(values)
    return None if np.isnan(sizes).all() or np.nanmax(sizes) == 0 else int(np.nanargmax(sizes))


def _label_peak(axes: Axes, beam: Beam, curves: list[Array], unit: str, scale: float) -> None:
    """The greatest value of a panel with its unit and the element beyond that joint."""
    peaks = [(curve, at) for curve in curves if (at := find_peak(curve)) is not None]
    if not peaks:
        return
    curve, at = max(peaks, key=lambda peak: float(abs(peak[0][peak[1]])))
    value = float(curve[at])
    length = float(beam.station_m[-1] - beam.station_m[0])
    right = length > 0 and beam.station_m[at] > beam.station_m[0] + length / 2
    text = f"{format_quantity(value, unit)}, {shorten_name(beam.elements[at])}"
    left, ends = (edge * 72 / axes.figure.dpi for edge in axes.get_window_extent().intervalx)
    place = axes.transData.transform((float(beam.station_m[at]), value * scale))[0] * 72 / axes.figure.dpi
    width = len(text) * _LETTER_PT
    # A long name by a peak near the middle would run over the border.
    inward = max(0.0, left + 2 - (place - width)) if right else min(0.0, ends - (place + width))
    axes.annotate(
        text, (float(beam.station_m[at]), value * scale),
        (inward, 4 if value > 0 else -4), textcoords="offset points", ha="right" if right else "left",
        va="bottom" if value > 0 else "top", fontsize=6.8, weight="bold", color=INK, zorder=6,
    )  # fmt: skip
