"""What is written in the plan of the support: feet, margin and edges, each where nothing drawn runs through it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from ..spatial.transforms import Array
from ..studies.assessment import Assessment, Edge, FootLoad
from .quantities import choose_unit, format_figure, format_quantity
from .state_marks import BLUE, INK

_FONT_PT, _LINE_PT, _LETTER_PT = 7.5, 8.0, 4.3
"""Size of the text, from line to line, and the mean width of a letter."""

_GAPS_PT = (2.0, 5.0, 9.0, 14.0, 20.0, 28.0)
_WAYS = 16
_STEP_PT = 1.5
_RIM_PT = 2.5
"""Tried distances of a label from its place, in so many directions; from point to point of a line that is kept free;
how far text keeps from it."""


@dataclass(frozen=True, eq=False)
class Label:
    """Lines of text that belong to a place (2,) of the plan, wanted on the side towards (2,) of it."""

    lines: tuple[str, ...]
    place: Array
    towards: Array
    look: dict[str, Any] = field(default_factory=dict)

    @property
    def half_pt(self) -> Array:
        """(2,) half of the width and height of its text."""
        return np.array([max(map(len, self.lines)) * _LETTER_PT, len(self.lines) * _LINE_PT]) / 2


def draw_plan_labels(axes: Axes, assessment: Assessment, radius: float, numbered: bool) -> None:
    """Write the numbers of the edges if they are wanted, the distance margin, and every foot with its load.

    radius : of the sign of the centre of mass, in the plan's units
    """
    scale = 72 / axes.figure.dpi
    labels = [*(_number_edges(axes, assessment.edges) if numbered else ()), *_tell_margin(assessment)]
    labels += _tell_feet(assessment)
    drawn = [axes.transData.transform(line) * scale for line in _list_drawn(assessment, radius)]
    places = [axes.transData.transform(label.place) * scale for label in labels]
    frame = axes.bbox.get_points() * scale
    for label, place, at in zip(labels, places, place_labels(labels, places, drawn, frame), strict=True):
        for number, text in enumerate(label.lines):
            rise = ((len(label.lines) - 1) / 2 - number) * _LINE_PT
            axes.annotate(
                text, (float(label.place[0]), float(label.place[1])), tuple(at - place + (0, rise)), size=_FONT_PT,
                textcoords="offset points", ha="center", va="center", **{"color": INK, "zorder": 11} | label.look,
            )  # fmt: skip


def place_labels(
    labels: Sequence[Label], places_pt: Sequence[Array], drawn_pt: Sequence[Array], frame_pt: Array
) -> list[Array]:
    """Middles (2,) of labels, in turn: nearest to its place where it covers no line drawn and no label before it.

    Parameters
    ----------
    drawn_pt : lines (k, 2) that are to stay free
    frame_pt : (2, 2) lower and upper corner of what the labels should stay in
    """
    points = np.concatenate([np.empty((0, 2)), *map(_spread, drawn_pt)])
    found: list[Array] = []
    for label, place in zip(labels, places_pt, strict=True):
        angles = 2 * np.pi * np.arange(_WAYS) / _WAYS + np.arctan2(label.towards[1], label.towards[0])
        ways = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        tried = np.concatenate([place + ways * gap + np.clip(1.5 * ways, -1, 1) * label.half_pt for gap in _GAPS_PT])
        cost = np.repeat(_GAPS_PT, _WAYS) + 6 * np.tile(1 - np.cos(angles - angles[0]), len(_GAPS_PT))
        room = label.half_pt + _RIM_PT
        cost += 20 * (np.abs(points - tried[:, None]) < room).all(axis=2).sum(axis=1)
        for middle, other in zip(found, labels, strict=False):
            cost += 400 * (np.abs(middle - tried) < room + other.half_pt).all(axis=1)
        cost += 100 * ((tried - room < frame_pt[0]) | (tried + room > frame_pt[1])).any(axis=1)
        found.append(tried[int(cost.argmin())])
    return found


def _spread(line: Array) -> Array:
    """(n, 2) points along a line, no farther apart than a step."""
    if len(line) < 2:
        return line
    return np.concatenate(
        [np.linspace(a, b, 2 + int(np.linalg.norm(b - a) / _STEP_PT)) for a, b in pairwise(line)]
    )  # fmt: skip


def _list_drawn(assessment: Assessment, radius: float) -> Iterator[Array]:
    """Lines (k, 2) of the plan: polygon, margin, the sign of the centre of mass, datum, contacts and pressures."""
    corners = assessment.support_polygon_m.reshape(-1, 2)
    centre = assessment.centre_m[:2]
    if len(corners):
        yield np.concatenate([corners, corners[:1]])
    if assessment.edges:
        yield np.stack([centre, find_foot(centre, find_governing(assessment.edges))])
    around = np.linspace(0, 2 * np.pi, 25)
    yield centre + radius * np.stack([np.cos(around), np.sin(around)], axis=1)
    yield centre[None]
    yield assessment.datum_m[None, :2]
    for foot in assessment.feet:
        yield from foot.points_m[:, None, :2]
        if foot.centre_m is not None:
            yield foot.centre_m[None, :2]


def find_governing(edges: Sequence[Edge]) -> Edge:
    """The edge that the centre of mass is nearest to, or farthest beyond."""
    return min(edges, key=lambda edge: edge.distance_m)


def find_foot(centre: Array, edge: Edge) -> Array:
    """(2,) the point of an edge's line that is nearest to the centre of mass."""
    along = (edge.end_m - edge.start_m) / np.linalg.norm(edge.end_m - edge.start_m)
    foot: Array = edge.start_m + along * ((centre - edge.start_m) @ along)
    return foot


def _tell_margin(assessment: Assessment) -> Iterator[Label]:
    """The distance margin, beside the middle of its dimension."""
    if not assessment.edges:
        return
    edge, centre = find_governing(assessment.edges), assessment.centre_m[:2]
    along = (edge.end_m - edge.start_m) / np.linalg.norm(edge.end_m - edge.start_m)
    towards = along if along[0] >= 0 else -along
    middle = (centre + find_foot(centre, edge)) / 2
    yield Label((format_quantity(edge.distance_m, "m"),), middle, towards, {"weight": "bold"})


def _number_edges(axes: Axes, edges: Sequence[Edge]) -> Iterator[Label]:
    """The numbers of the edges outside them; edges too short for a number each share one label."""
    scale = 72 / axes.figure.dpi
    groups: list[list[int]] = []
    middles = [axes.transData.transform((edge.start_m + edge.end_m) / 2) * scale for edge in edges]
    for i, middle in enumerate(middles):
        near = next((own for own in groups if np.linalg.norm(middles[own[0]] - middle) < 9), None)
        if near is None:
            groups.append([i])
        else:
            near.append(i)
    for group in groups:
        longest = max((edges[i] for i in group), key=lambda edge: float(np.linalg.norm(edge.end_m - edge.start_m)))
        along = longest.end_m - longest.start_m
        outward = np.array([along[1], -along[0]]) / max(float(np.linalg.norm(along)), 1e-12)
        place = np.mean([(edges[i].start_m + edges[i].end_m) / 2 for i in group], axis=0)
        text = ", ".join(str(i + 1) for i in group)
        yield Label((text,), place, outward, {"color": BLUE, "weight": "bold"})


def _tell_feet(assessment: Assessment) -> Iterator[Label]:
    """Name and load of each standing foot, away from the others."""
    standing = [foot for foot in assessment.feet if len(foot.points_m)]
    if not standing:
        return
    middle = np.mean([foot.points_m[:, :2].mean(axis=0) for foot in standing], axis=0)
    for foot in standing:
        x, y = foot.points_m[:, :2].T
        up = y.mean() >= middle[1]
        place = np.array([x.mean(), y.max() if up else y.min()])
        yield Label((foot.foot, tell_load(foot)), place, np.array([0.0, 1.0 if up else -1.0]))


def tell_load(foot: FootLoad) -> str:
    """Force by springs, and its range on a rigid base where that leaves it open."""
    told = format_quantity(foot.force_N, "N")
    if foot.range_N is None or foot.range_N[1] - foot.range_N[0] <= 1e-6 * max(foot.range_N[1], 1.0):
        return told
    unit, scale = choose_unit(foot.range_N, "N")
    least, greatest = (format_figure(value * scale) for value in foot.range_N)
    return f"{told} ({least} to {greatest} {unit})"
