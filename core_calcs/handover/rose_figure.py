"""The rose: how far it is to tipping in every direction, by tilt and by a horizontal force."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.figure import Figure
from matplotlib.projections.polar import PolarAxes
from matplotlib.ticker import MaxNLocator

from ..spatial.transforms import Array
from ..statics.rose import Rose
from .quantities import choose_unit, format_fixed, format_quantity
from .state_marks import BLUE, INK, ORANGE
from .svg import figure_style, figure_to_svg

_WIDTH_IN, _HEIGHT_IN = 7.08, 3.15


def draw_rose(rose: Rose, allowed_N: Array, name: str) -> str:
    """Two roses, the head to the right as in the plan: tilt that tips; force that tips, and what EQU allows of it.

    allowed_N : (n,) in the rose's directions
    name : unique on the page
    """
    tipping = np.where(np.isfinite(rose.force_N), rose.force_N, np.nan)
    allowed = np.where(np.isfinite(allowed_N), allowed_N, np.nan)
    unit, scale = choose_unit(tipping.tolist(), "N")
    with figure_style():
        figure = Figure(figsize=(_WIDTH_IN, _HEIGHT_IN), facecolor="none")
        tilt = _add_rose(figure, 0.06, "tilt at which it tips [°]")
        force = _add_rose(figure, 0.56, f"horizontal force at {format_fixed(rose.height_m, 2)} m [{unit}]")
        degrees = np.degrees(rose.tip_angle_rad)
        _draw_curve(tilt, rose.azimuth_rad, degrees, BLUE, "-", "tilt that tips", True)
        _mark_least(tilt, rose.azimuth_rad, degrees, f"{format_fixed(float(np.nanmin(degrees)), 1)}°")
        _draw_curve(force, rose.azimuth_rad, tipping * scale, ORANGE, (0, (4, 1.5)), "force that tips", False)
        if allows_none(allowed_N):
            _mark_least(force, rose.azimuth_rad, tipping * scale, format_quantity(float(np.nanmin(tipping)), "N"))
            force.plot([], [], linestyle="none", label="allowed by EQU: none")
        else:
            _draw_curve(force, rose.azimuth_rad, allowed * scale, BLUE, "-", "allowed by EQU, alone", True)
            _mark_least(force, rose.azimuth_rad, allowed * scale, format_quantity(float(np.nanmin(allowed)), "N"))
        figure.legend(*force.get_legend_handles_labels(), loc="lower center", ncols=2, bbox_to_anchor=(0.76, -0.02))
        return figure_to_svg(figure, name, "Margins in every direction: tilt and horizontal force that tip the whole")


def allows_none(allowed_N: Array) -> bool:
    """Whether the partial factors leave no force in any direction."""
    return not (allowed_N > 0).any()


def _add_rose(figure: Figure, left: float, title: str) -> PolarAxes:
    side = 0.36
    axes = figure.add_axes(
        (left, 0.14, side, side * _WIDTH_IN / _HEIGHT_IN * 0.86), projection="polar", facecolor="none"
    )
    assert isinstance(axes, PolarAxes)
    axes.set_title(title, fontsize=7.5, color=INK, pad=14)
    axes.set_xticks(np.radians([0, 45, 90, 135, 180, 225, 270, 315]))
    axes.set_xticklabels(["head", "45°", "left", "135°", "tail", "225°", "right", "315°"])
    axes.tick_params(axis="x", pad=0)
    axes.set_rlabel_position(22.5)
    axes.grid(color="#dddddd", linewidth=0.5)
    axes.spines["polar"].set_color("#bbbbbb")
    return axes


def _draw_curve(
    axes: PolarAxes, azimuth: Array, radius: Array, colour: str, dash: object, label: str, filled: bool
) -> None:
    around, out = np.append(azimuth, azimuth[0]), np.append(radius, radius[0])
    axes.plot(around, out, color=colour, linestyle=dash, label=label)
    if filled:
        axes.fill(around, out, color=colour, alpha=0.10, linewidth=0)
    axes.set_rmin(0)
    axes.yaxis.set_major_locator(MaxNLocator(4, prune="lower"))


def _mark_least(axes: PolarAxes, azimuth: Array, radius: Array, text: str) -> None:
    if np.isnan(radius).all():
        return
    at = int(np.nanargmin(radius))
    axes.plot([azimuth[at]], [radius[at]], marker="D", markersize=3.6, color=INK, linestyle="none", zorder=6)
    way = (9 * math.cos(azimuth[at]), 9 * math.sin(azimuth[at]))
    axes.annotate(
        text, (azimuth[at], radius[at]), way, textcoords="offset points", weight="bold", color=INK, zorder=7,
        ha="left" if way[0] > 1 else "right" if way[0] < -1 else "center", va="center",
    )  # fmt: skip
