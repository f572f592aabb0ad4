"""How much of their ranges poses take: a row a pose, a cell a joint, the darker the nearer to an end."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from ..studies.ranges import JointRange, PoseUse
from .figure_names import LABEL_PT, MOST_LABELS, list_runs, measure_names, shorten_name
from .state_marks import INK, STATE_MARKS
from .svg import figure_style, figure_to_svg

_WIDTH_IN, _ROW_IN = 7.08, 0.155
_STEPS = ((0.0, "#e9eff4"), (0.25, "#bfd3e2"), (0.5, "#8cb0cb"), (0.75, "#4f83ab"), (1.0, "#17486e"))
"""Least share of a shade, and the shade: one hue, even steps of lightness, so that grey keeps them apart."""


def draw_uses(joints: Sequence[JointRange], poses: Sequence[str], name: str, title: str) -> str:
    """The figure as SVG: of every joint the axis that uses most of its way to the end.

    Parameters
    ----------
    joints : at least one, in their order from the left
    name : unique on the page
    title : what a reader who does not see the figure is told
    """
    labels = [shorten_name(own.joint.child) for own in joints]
    rows = [shorten_name(pose) for pose in poses]
    below = measure_names(labels, LABEL_PT) + 0.12
    left = measure_names(rows, 6.8) + 0.12
    above, high = 0.40, len(rows) * _ROW_IN
    height = above + high + below
    with figure_style():
        figure = Figure(figsize=(_WIDTH_IN, height), facecolor="none")
        across = (_WIDTH_IN - left - 0.07) / _WIDTH_IN
        panel = figure.add_axes((left / _WIDTH_IN, below / height, across, high / height), facecolor="none")
        panel.set_xlim(-0.5, len(joints) - 0.5)
        panel.set_ylim(len(rows) - 0.5, -0.5)
        panel.spines[:].set_visible(False)
        panel.set_yticks(range(len(rows)), rows, fontsize=6.8)
        every = -(-len(labels) // MOST_LABELS)
        panel.set_xticks(range(0, len(labels), every), labels[::every], rotation=90, fontsize=LABEL_PT)
        panel.tick_params(length=0, pad=2)
        for i, own in enumerate(joints):
            for row, use in enumerate(own.uses):
                _draw_cell(panel, i, row, use)
        _mark_parts(panel, joints)
        _draw_key(figure, height)
        return figure_to_svg(figure, name, title)


def _draw_cell(panel: Axes, x: float, y: float, use: PoseUse) -> None:
    share = use.greatest_share
    outside = use.state == "fails"
    shade = next(shade for least, shade in reversed(_STEPS) if (share or 0.0) >= least - 1e-9)
    colour = STATE_MARKS["fails"].colour if outside else shade if use.turned and share is not None else "#ffffff"
    panel.add_patch(Rectangle((x - 0.5, y - 0.44), 1, 0.88, facecolor=colour, edgecolor="#c9c6bf", linewidth=0.3))
    if outside or use.state == "not known":
        _write_mark(panel, x, y, "✕" if outside else "?", f"{x:g}-{y:g}")


def _write_mark(panel: Axes, x: float, y: float, mark: str, name: str) -> None:
    """Without the rim of light that the page gives other text in figures: its style knows it by the name."""
    ink = "white" if mark == "✕" else INK
    panel.text(x, y, mark, ha="center", va="center", fontsize=5.2, weight="bold", color=ink, gid=f"bare-{name}")


def _mark_parts(panel: Axes, joints: Sequence[JointRange]) -> None:
    for start, end, part in list_runs([own.part for own in joints]):
        if start:
            panel.axvline(start - 0.5, color=INK, linewidth=0.6, ymin=-0.02, ymax=1.04, clip_on=False)
        if (end - start) / len(joints) > 0.0075 * len(part):
            where = panel.get_xaxis_transform()
            panel.text((start + end - 1) / 2, 1.04, part, transform=where, ha="center", fontsize=7, color=INK)


def _draw_key(figure: Figure, height_in: float) -> None:
    """The shades with the shares that they begin at."""
    key = figure.add_axes((0.01, 1 - 0.15 / height_in, 0.98, 0.13 / height_in), facecolor="none")
    key.set_xlim(0, 0.98 * _WIDTH_IN)
    key.set_ylim(0, 0.13)
    key.axis("off")
    x = _draw_sample(key, 0.0, "#ffffff", "at neutral", "")
    ends = [*(least for least, _ in _STEPS[1:]), None]
    for (least, shade), end in zip(_STEPS, ends, strict=True):
        text = f"{100 * least:.0f}–{100 * end:.0f} %" if end is not None else "at the end"
        x = _draw_sample(key, x, shade, text, "")
    x = _draw_sample(key, x, STATE_MARKS["fails"].colour, "outside", "✕")
    _draw_sample(key, x, "#ffffff", "not known", "?")


def _draw_sample(key: Axes, x: float, shade: str, text: str, mark: str) -> float:
    key.add_patch(Rectangle((x, 0.01), 0.14, 0.11, facecolor=shade, edgecolor="#c9c6bf", linewidth=0.3))
    if mark:
        _write_mark(key, x + 0.07, 0.065, mark, "outside" if mark == "✕" else "unknown")
    key.text(x + 0.19, 0.06, text, va="center", fontsize=6.8, color=INK)
    return x + 0.28 + 0.058 * len(text)
