"""What weighs how much, and where along the body: two figures."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..spatial.transforms import Array
from .figure_names import shorten_name
from .pieces import Piece, list_groups
from .quantities import format_figure
from .state_marks import BLUE, INK
from .svg import figure_style, figure_to_svg

_WIDTH_IN, _ROW_IN = 7.08, 0.17
GREATEST = 10
"""So many pieces are shown by name."""
SLICES = 40
"""The body's length is cut into so many."""


def draw_masses(pieces: Sequence[Piece], name: str) -> str:
    """Bars of mass with their uncertainty: by series, and of the greatest pieces.

    Parameters
    ----------
    pieces : at least one
    name : unique on the page
    """
    groups = list_groups(pieces)
    series = [
        (shorten_name(group), sum(p.mass_kg for p in own), sum(p.mass_uncertainty_kg for p in own))
        for group, own in groups
    ]
    greatest = [(shorten_name(p.name), p.mass_kg, p.mass_uncertainty_kg) for p in list_greatest(pieces)]
    rows = max(len(series), len(greatest))
    height = rows * _ROW_IN + 0.5
    with figure_style():
        figure = Figure(figsize=(_WIDTH_IN, height), facecolor="none")
        for left, bars, title in ((0.10, series, "by series"), (0.62, greatest, "the greatest pieces")):
            share = len(bars) * _ROW_IN / height
            axes = figure.add_axes((left, 1 - 0.26 / height - share, 0.30, share), facecolor="none")
            _draw_bars(axes, bars, title)
        return figure_to_svg(figure, name, "Mass by series and of the greatest pieces")


def list_greatest(pieces: Sequence[Piece]) -> list[Piece]:
    """The heaviest pieces, the heaviest first."""
    return sorted(pieces, key=lambda piece: -piece.mass_kg)[:GREATEST]


def _draw_bars(axes: Axes, bars: Sequence[tuple[str, float, float]], title: str) -> None:
    at = np.arange(len(bars))
    mass, uncertainty = np.array([bar[1] for bar in bars]), np.array([bar[2] for bar in bars])
    axes.barh(at, mass, height=0.62, color="#7aa6c8", edgecolor=BLUE, linewidth=0.5)
    axes.errorbar(mass, at, xerr=uncertainty, fmt="none", ecolor=INK, elinewidth=0.7, capsize=1.8, capthick=0.7)
    axes.set_ylim(len(bars) - 0.5, -0.5)
    axes.set_xlim(0, max(float((mass + uncertainty).max()), 1e-12))
    axes.set_yticks(at, [bar[0] for bar in bars])
    axes.tick_params(axis="y", length=0)
    axes.spines["bottom"].set_visible(False)
    axes.set_xticks([])
    axes.set_title(f"{title} [kg]", fontsize=7.5, color=INK, pad=4, loc="left")
    for y, own, more in zip(at, mass, uncertainty, strict=True):
        axes.annotate(
            format_figure(float(own)), (float(own + more), float(y)), (4, 0),
            textcoords="offset points", va="center", fontsize=7, color=INK,
        )  # fmt: skip


def draw_mass_along(pieces: Sequence[Piece], centre_x_m: float, name: str) -> str:
    """Mass by slices of the body along x, and the share up to each place; the tail on the left, as in the side view.

    pieces : at least one, in the order of x
    """
    x, mass = np.array([p.x_m for p in pieces]), np.array([p.mass_kg for p in pieces])
    edges = np.linspace(x.min(), x.max() if np.ptp(x) else x.min() + 1e-3, SLICES + 1)
    slices, _ = np.histogram(x, edges, weights=mass)
    with figure_style():
        figure = Figure(figsize=(_WIDTH_IN, 2.9), facecolor="none")
        upper = figure.add_axes((0.075, 0.59, 0.915, 0.33), facecolor="none")
        lower = figure.add_axes((0.075, 0.15, 0.915, 0.36), facecolor="none", sharex=upper)
        upper.bar(
            edges[:-1], slices, width=np.diff(edges), align="edge", color="#7aa6c8", edgecolor="white", linewidth=0.4
        )
        upper.set_ylabel("mass of a slice [kg]")
        upper.tick_params(axis="x", labelbottom=False)
        _draw_shares(lower, x, mass, edges)
        for axes in (upper, lower):
            axes.axvline(centre_x_m, color=INK, linewidth=0.8, linestyle=(0, (6, 2, 1, 2)))
            axes.grid(axis="y", color="#dddddd", linewidth=0.5)
            axes.set_axisbelow(True)
        upper.annotate(
            "centre of mass", (centre_x_m, 1), (3, 2), xycoords=upper.get_xaxis_transform(),
            textcoords="offset points", fontsize=7, color=INK,
        )  # fmt: skip
        lower.set_xlabel("x, towards the head [m]")
        return figure_to_svg(
            figure, name, "Mass along the body from the tail to the snout, and the share up to each place"
        )


def _draw_shares(axes: Axes, x: Array, mass: Array, edges: Array) -> None:
    share = 100 * np.cumsum(mass) / (mass.sum() or np.nan)
    axes.step(
        np.concatenate([[edges[0]], x, [edges[-1]]]), np.concatenate([[0], share, [100]]), where="post", color=BLUE
    )
    axes.set_ylim(0, 105)
    axes.set_yticks([0, 25, 50, 75, 100])
    axes.set_ylabel("share up to here [%]")
