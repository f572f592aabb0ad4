"""What the joints allow, a bar a joint, and the angles that poses turn them to: for colour, grey and print."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from ..skeleton.joint import Stop, StopReason
from ..spatial.transforms import Array
from ..studies.ranges import JointRange
from .figure_names import LABEL_PT, MOST_LABELS, list_runs, measure_names, shorten_name
from .state_marks import INK
from .svg import figure_style, figure_to_svg

POSES_IN_FIGURE = 4
"""So many can be told apart."""

_TITLES = ("flexion + / extension −", "lateral, left + / right −", "axial turn")
_LIMB_TITLES = ("flexion + / extension −", "lateral: abduction, adduction", "axial turn")

_WIDTH_IN, _BETWEEN_IN = 7.08, 0.17
_PANEL_IN, _LIMB_PANEL_IN = 1.54, 1.3
_LEFT, _ACROSS = 0.075, 0.915
_WIDEST_BAR_PT = 9.0
_LEGEND_ROW_IN = 0.17
_NAME_PT, _ROOM_PT = 6.4, 11.0
"""Size of a pose's name beside its line, and the room that it needs."""
_BAR, _RIM = "#dcdad4", "#8d8a83"


@dataclass(frozen=True)
class PoseLook:
    """How a pose is told from the others: by dashes and markers, and by colour."""

    colour: str
    dashes: Any
    marker: str
    size: float


POSE_LOOKS = (
    PoseLook("#0072B2", "solid", "o", 2.6),
    PoseLook("#D55E00", (0, (5, 1.6)), "s", 2.4),
    PoseLook("#000000", (0, (1.2, 1.4)), "D", 2.2),
    PoseLook("#009E73", (0, (6, 1.5, 1.2, 1.5)), "^", 3.0),
)
"""Colours of Okabe & Ito (2008); in grey the dashes and markers tell."""

_END_LOOKS: dict[StopReason, dict[str, Any]] = {
    "bone contact": {"marker": "_", "markeredgewidth": 1.7, "color": INK, "label": "bone contact"},
    "facet overlap": {"marker": "_", "markeredgewidth": 0.6, "color": INK, "label": "facet overlap"},
    "gap": {"marker": "o", "markeredgewidth": 0.0, "color": INK, "label": "gap"},
    "search range": {"marker": 6, "markeredgewidth": 0.0, "color": INK, "label": "end of the search: at least this"},
    "by hand": {"marker": "x", "markeredgewidth": 0.7, "color": INK, "label": "set by hand"},
}


@dataclass(frozen=True)
class RangeFigure:
    """What one figure shows.

    joints : at least one, in their order from the left
    axes : 0 flexion, 1 lateral, 2 axial: a panel each
    looks : of POSE_LOOKS, by the number of each pose that is shown; at most one pose a look
    chained : whether each joint follows the one before it, so that lines between them mean something
    name : unique on the page
    title : what a reader who does not see the figure is told
    """

    joints: Sequence[JointRange]
    axes: Sequence[int]
    looks: Mapping[int, int]
    chained: bool
    name: str
    title: str


def draw_ranges(shown: RangeFigure) -> str:
    """The figure as SVG: bars of the ranges with what ends them, and the poses' angles."""
    labels = [shorten_name(own.joint.child) for own in shown.joints]
    below = measure_names(labels, LABEL_PT) + 0.12
    samples = _list_pose_samples(shown)
    columns = _count_columns(samples)
    rows = -(-len(samples) // columns)
    above = 0.40 + _LEGEND_ROW_IN * rows
    high = _PANEL_IN if shown.chained else _LIMB_PANEL_IN
    height = above + len(shown.axes) * (high + _BETWEEN_IN) - _BETWEEN_IN + below
    with figure_style():
        figure = Figure(figsize=(_WIDTH_IN, height), facecolor="none")
        for row, axis in enumerate(shown.axes):
            bottom = below + (len(shown.axes) - 1 - row) * (high + _BETWEEN_IN)
            panel = figure.add_axes((_LEFT, bottom / height, _ACROSS, high / height), facecolor="none")
            _draw_panel(panel, shown, axis)
            panel.set_ylabel(f"{(_TITLES if shown.chained else _LIMB_TITLES)[axis]} [°]", fontsize=6.8)
            _mark_parts(panel, shown.joints, named=row == 0)
            last = row == len(shown.axes) - 1
            every = -(-len(labels) // MOST_LABELS)
            names = labels[::every] if last else []
            panel.set_xticks(range(0, len(labels), every), names or [""] * len(labels[::every]))
            panel.tick_params(axis="x", length=2 if last else 0, labelrotation=90, labelsize=LABEL_PT)
        _add_legend(figure, samples, columns, 0.0, height)
        _add_legend(figure, _list_end_samples(shown), len(_END_LOOKS), _LEGEND_ROW_IN * rows, height)
        return figure_to_svg(figure, shown.name, shown.title)


def _add_legend(figure: Figure, samples: list[Line2D], columns: int, down_in: float, height_in: float) -> None:
    where = (_LEFT - 0.008, 1 - down_in / height_in)
    figure.legend(
        handles=samples, loc="upper left", bbox_to_anchor=where, ncols=columns, handlelength=2.4,
        columnspacing=1.6, borderaxespad=0.0, borderpad=0.2,
    )  # fmt: skip


def _count_columns(samples: Sequence[Line2D]) -> int:
    """As many as stand beside each other on a page."""
    longest = max((len(str(sample.get_label())) for sample in samples), default=0)
    return max(1, min(len(samples), int(_WIDTH_IN * 72 / (44 + 4.4 * longest))))


def _draw_panel(panel: Axes, shown: RangeFigure, axis: int) -> None:
    count = len(shown.joints)
    angles = np.degrees([[own.uses[pose].axes[axis].angle_rad for own in shown.joints] for pose in shown.looks])
    angles = angles.reshape(len(shown.looks), count)
    top = _choose_top(shown.joints, axis, angles)
    panel.set_xlim(-0.8, count - 0.2)
    panel.set_ylim(-top, top)
    panel.grid(axis="y", color="#e4e2dd", linewidth=0.4)
    panel.set_axisbelow(True)
    panel.axhline(0, color=_RIM, linewidth=0.5, zorder=1.5)
    panel.locator_params(nbins=6, axis="y")
    panel.yaxis.set_major_formatter(lambda value, _: f"{value:g}".replace("-", "−"))
    pitch_pt = 72 * _ACROSS * _WIDTH_IN / (count + 0.6)
    width = min(0.62, _WIDEST_BAR_PT / pitch_pt)
    for i, own in enumerate(shown.joints):
        _draw_bar(panel, i, own, axis, top, width, width * pitch_pt)
    for (pose, look), line in zip(shown.looks.items(), angles, strict=True):
        beyond = np.array([own.uses[pose].axes[axis].state == "fails" for own in shown.joints], bool)
        _draw_pose(panel, line, beyond, look, shown.chained, pitch_pt)
    if shown.chained and count:
        names = {shorten_name(shown.joints[0].uses[pose].pose): look for pose, look in shown.looks.items()}
        _name_lines(panel, angles, names, pitch_pt, 72 * _PANEL_IN / (2 * top))


def _draw_bar(panel: Axes, i: int, own: JointRange, axis: int, top: float, width: float, width_pt: float) -> None:
    limit = own.axes[axis].limit
    if limit is None:
        panel.text(i, 0, "?", ha="center", va="center", fontsize=6.5, weight="bold", color=INK, zorder=3)
        return
    if own.axes[axis].held:
        return
    low, high = np.clip(np.degrees([limit.low.angle_rad, limit.high.angle_rad]), -top, top).tolist()
    by_hand = limit.low.reason == limit.high.reason == "by hand"
    panel.bar(
        i, high - low, width, low, facecolor="white" if by_hand else _BAR, edgecolor=_RIM, linewidth=0.4,
        linestyle=(0, (2, 1.2)) if by_hand else "solid", zorder=2,
    )  # fmt: skip
    for end, y in ((limit.low, low), (limit.high, high)):
        _mark_end(panel, i, y, end, width_pt)


def _mark_end(panel: Axes, x: float, y: float, end: Stop, width_pt: float) -> None:
    """A mark for what ends the movement."""
    look = dict(_END_LOOKS.get(end.reason, {}))
    if not look:
        return
    del look["label"]
    size = width_pt if look["marker"] == "_" else min(3.0, 0.8 * width_pt)
    if end.reason == "search range":
        look["marker"] = 6 if end.angle_rad > 0 else 7
        size = min(4.0, 1.1 * width_pt)
    panel.plot([x], [y], linestyle="none", markersize=size, zorder=3, clip_on=False, **look)


def _draw_pose(panel: Axes, angles: Array, beyond: NDArray[np.bool_], number: int, chained: bool, pitch: float) -> None:
    """A marker at every joint that the pose turns, filled where it is beyond the end; along a chain a line as well.

    The line goes from the joint before the first that is turned to the one after the last. pitch : of the joints [pt]
    """
    look = POSE_LOOKS[number]
    turned = np.abs(angles) > 0.005
    at = np.arange(len(angles), dtype=float)
    if chained:
        near = turned | np.append(turned[1:], False) | np.append(False, turned[:-1])
        line = np.where(near, angles, np.nan)
        panel.plot(at, line, color=look.colour, linestyle=look.dashes, linewidth=0.8, zorder=4 + 0.1 * number)
    else:  # side by side, as several may turn one joint alike
        at = at + (number - 1.5) * min(0.16, 4.0 / pitch)
    for shown, fill, size in ((turned & ~beyond, "white", look.size), (beyond, look.colour, 1.35 * look.size)):
        panel.plot(
            at[shown], angles[shown], color=look.colour, linestyle="none", marker=look.marker, markersize=size,
            markeredgewidth=0.6, markerfacecolor=fill, zorder=4.05 + 0.1 * number, clip_on=False,
        )  # fmt: skip


def _name_lines(panel: Axes, angles: Array, names: Mapping[str, int], pitch_pt: float, degree_pt: float) -> None:
    """The name of each pose beside its line, where that is farthest from the others; none where there is no room."""
    heights = angles * degree_pt
    for number, (name, look) in enumerate(names.items()):
        reach = math.ceil(0.5 * 0.6 * _NAME_PT * len(name) / pitch_pt)
        others = np.vstack([np.delete(heights, number, axis=0), np.zeros(heights.shape[1])])
        best, where, side = _ROOM_PT, 0, 0
        for i in range(reach, heights.shape[1] - reach):
            near = slice(i - reach, i + reach + 1)
            own = heights[number, near]
            if not (np.abs(angles[number, near]) > 0.005).all() or np.ptp(own) > 3:
                continue
            for way in (1, -1):
                room = way * (others[:, near] - own)
                free = float(np.where(room > -1e-9, room, np.inf).min())
                if free > best:
                    best, where, side = min(free, 40.0), i, way
        if side:
            panel.annotate(
                name, (where, angles[number, where]), (0, 3.0 * side), textcoords="offset points", ha="center",
                va="bottom" if side > 0 else "top", fontsize=_NAME_PT, color=POSE_LOOKS[look].colour, zorder=6,
            )  # fmt: skip


def _choose_top(joints: Sequence[JointRange], axis: int, angles: Array) -> float:
    """Greatest angle shown [deg]: of all ends, or, where the search went far beyond them, of those that were met."""
    limits = [own.axes[axis].limit for own in joints]
    ends = [end for limit in limits if limit is not None for end in (limit.low, limit.high)]
    met = [abs(math.degrees(end.angle_rad)) for end in ends if end.reason != "search range"]
    used = float(np.abs(angles).max(initial=0.0))
    widest = max([*(abs(math.degrees(end.angle_rad)) for end in ends), used, 1.0])
    widest_met = max([*met, used, 1.0])
    return 1.12 * (widest_met if widest > 2 * widest_met > 2 else widest)


def _mark_parts(panel: Axes, joints: Sequence[JointRange], named: bool) -> None:
    """A line between the parts of the skeleton, and their names above the first panel."""
    for start, end, part in list_runs([own.part for own in joints]):
        if start:
            panel.axvline(start - 0.5, color="#b5b2aa", linewidth=0.5, zorder=1)
        if named and (end - start) / len(joints) > 0.0075 * len(part):
            where = panel.get_xaxis_transform()
            panel.text((start + end - 1) / 2, 1.03, part, transform=where, ha="center", fontsize=7, color=INK)


def _list_pose_samples(shown: RangeFigure) -> list[Line2D]:
    samples = []
    for pose, look in ((pose, POSE_LOOKS[number]) for pose, number in shown.looks.items()):
        dashes = look.dashes if shown.chained else "none"
        label = shorten_name(shown.joints[0].uses[pose].pose)
        samples.append(
            Line2D(
                [], [], color=look.colour, linestyle=dashes, linewidth=0.9, label=label, marker=look.marker,
                markersize=1.2 * look.size, markeredgewidth=0.7, markerfacecolor="white",
            )
        )  # fmt: skip
    return samples


def _list_end_samples(shown: RangeFigure) -> list[Line2D]:
    """Of the reasons that occur."""
    limits = [own.axes[axis].limit for own in shown.joints for axis in shown.axes]
    there = {end.reason for limit in limits if limit is not None for end in (limit.low, limit.high)}
    return [
        Line2D([], [], linestyle="none", markersize=6 if look["marker"] == "_" else 3.2, **look)
        for reason, look in _END_LOOKS.items()
        if reason in there
    ]
