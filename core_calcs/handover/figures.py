"""The figures of the report: plan of the support, side and front view, moments along the column."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Wedge
from scipy import ndimage

from ..site.site import Site
from ..spatial.transforms import Array
from ..studies.assessment import Assessment, Edge
from .plan_labels import draw_plan_labels, find_foot, find_governing
from .state_marks import BLUE, INK
from .svg import figure_style, figure_to_svg

_WIDTH_IN = 7.08
"""Width between the margins of an A4 page, 180 mm."""

_TALLEST_PLAN_IN, _TALLEST_VIEWS_IN = 3.5, 4.4
"""Greatest heights: with them the page's figures and tables share its sheets without large gaps."""

_LEAST_WIDE = 1.3
"""The closer plan is at least so wide, as a share of its longer side: names of feet need room at the sides."""

_RADIUS = 0.0125
"""Of the sign of the centre of mass, as a share of the plan's longer side."""


def draw_support_plan(assessment: Assessment, site: Site, outline_W: Array, cell_m: float, name: str) -> str:
    """Plan: support polygon, contacts, centre of mass and its distance from the edge that governs, over the skeleton.

    Parameters
    ----------
    outline_W : (k, 3) points on the skeleton's surface in the pose [m]
    cell_m : size of the cells that they are gathered in
    name : unique on the page
    """
    centre = assessment.centre_m[:2]
    marks = [assessment.support_polygon_m.reshape(-1, 2), assessment.datum_m[None, :2], centre[None]]
    marks += [foot.points_m[:, :2] for foot in assessment.feet if len(foot.points_m)]
    points = np.concatenate([outline_W[:, :2], *marks])
    lower, upper = points.min(axis=0), points.max(axis=0)
    span = float(max(upper - lower))
    with figure_style():
        figure, (axes,) = _lay_out([(lower, upper)], "y, to the animal's left [m]", _TALLEST_PLAN_IN, 0.1)
        _shade(axes, outline_W[:, :2], cell_m)
        _draw_support(axes, assessment)
        _draw_feet(axes, assessment)
        if assessment.edges:
            _draw_margin(axes, centre, find_governing(assessment.edges), span)
        _draw_centre(axes, centre, _RADIUS * span)
        axes.plot(*assessment.datum_m[:2], marker="x", color=INK, markersize=4.5, markeredgewidth=0.9, zorder=6)
        draw_plan_labels(axes, assessment, _RADIUS * span, False)
        axes.set_xlabel("x, towards the head [m]")
        return figure_to_svg(figure, name, "Plan of the support polygon with the centre of mass")


def draw_support_closely(assessment: Assessment, name: str) -> str | None:
    """The same plan around the support polygon alone, its edges numbered; None where there is no polygon."""
    if not assessment.edges:
        return None
    centre = assessment.centre_m[:2]
    points = np.concatenate([assessment.support_polygon_m, assessment.datum_m[None, :2], centre[None]])
    lower, upper = points.min(axis=0), points.max(axis=0)
    span = float(max(upper - lower))
    beside = max(0.0, _LEAST_WIDE * span - (upper - lower)[0]) / 2
    wider = np.array([beside, 0.0])
    lower, upper = lower - wider, upper + wider
    with figure_style():
        figure, (axes,) = _lay_out([(lower, upper)], "y, to the animal's left [m]", _TALLEST_PLAN_IN, 0.22)
        _draw_support(axes, assessment)
        _draw_feet(axes, assessment)
        _draw_margin(axes, centre, find_governing(assessment.edges), span)
        _draw_centre(axes, centre, 1.6 * _RADIUS * span)
        axes.plot(*assessment.datum_m[:2], marker="x", color=INK, markersize=4.5, markeredgewidth=0.9, zorder=6)
        draw_plan_labels(axes, assessment, 1.6 * _RADIUS * span, True)
        axes.set_xlabel("x, towards the head [m]")
        return figure_to_svg(figure, name, "Plan of the support polygon alone, its edges numbered")


def draw_elevations(assessment: Assessment, site: Site, outline_W: Array, cell_m: float, name: str) -> str:
    """Side view (from the animal's right) and front view, to one scale, with the mass of every element."""
    with figure_style():
        points = np.concatenate([outline_W, [assessment.centre_m], [[*assessment.datum_m[:2], site.ground_m]]])
        lower, upper = points.min(axis=0), points.max(axis=0)
        views = (
            (0, "x, towards the head [m]", "from the animal's right"),
            (1, "y, to the animal's left [m]", "from the front"),
        )
        boxes = [(lower[[across, 2]], upper[[across, 2]]) for across, *_ in views]
        figure, panels = _lay_out(boxes, "z, upwards [m]", _TALLEST_VIEWS_IN)
        span = float((upper - lower).max())
        for axes, (across, label, title) in zip(panels, views, strict=True):
            columns = [across, 2]
            _shade(axes, outline_W[:, columns], cell_m)
            axes.axhline(site.ground_m, color=INK, linewidth=0.8, zorder=2)
            _draw_masses(axes, assessment, columns)
            p = assessment.centre_m[columns]
            axes.plot([p[0], p[0]], [p[1], site.ground_m], color=INK, linewidth=0.7, linestyle=(0, (6, 2, 1, 2)))
            _draw_centre(axes, p, _RADIUS * span)
            axes.set_xlabel(label)
            axes.set_title(title, fontsize=7.5, color=INK, pad=3)
        return figure_to_svg(figure, name, "Side view and front view with the centre of mass")


def _lay_out(
    boxes: list[tuple[Array, Array]], y_label: str, tallest_in: float, pad_share: float = 0.05
) -> tuple[Figure, list[Axes]]:
    """A figure of panels side by side, all to one scale, that fills the width or the greatest height."""
    left, right, bottom, top, between = 0.52, 0.1, 0.45, 0.2, 0.42
    spans = [np.maximum(upper - lower, 1e-6) for lower, upper in boxes]
    pad = pad_share * max(float(span.max()) for span in spans)
    sizes = [span + 2 * pad for span in spans]
    across = _WIDTH_IN - left - right - between * (len(boxes) - 1)
    scale = min(across / sum(size[0] for size in sizes), (tallest_in - bottom - top) / max(s[1] for s in sizes))
    height = scale * max(size[1] for size in sizes) + bottom + top
    figure = Figure(figsize=(_WIDTH_IN, height), facecolor="none")
    x = left + (across - scale * sum(size[0] for size in sizes)) / 2
    panels = []
    for number, ((lower, upper), size) in enumerate(zip(boxes, sizes, strict=True)):
        where = (x / _WIDTH_IN, bottom / height, scale * size[0] / _WIDTH_IN, scale * size[1] / height)
        axes = figure.add_axes(where, facecolor="none")
        axes.set_xlim(lower[0] - pad, upper[0] + pad)
        axes.set_ylim(lower[1] - pad, upper[1] + pad)
        axes.set_aspect("equal")
        axes.locator_params(nbins=max(3, min(9, int(scale * size[0] / 0.6))), axis="x")
        axes.locator_params(nbins=max(3, min(7, int(scale * size[1] / 0.45))), axis="y")
        if number == 0:
            axes.set_ylabel(y_label)
        panels.append(axes)
        x += scale * size[0] + between
    return figure, panels


def _shade(axes: Axes, points: Array, cell_m: float) -> None:
    """The skeleton as a faint grey picture: denser where more surface lies behind a cell."""
    if not len(points):
        return
    lower = points.min(axis=0) - 3 * cell_m
    shape = np.ceil((points.max(axis=0) + 3 * cell_m - lower) / cell_m).astype(int)
    at = ((points - lower) / cell_m).astype(int)
    counts = np.bincount(np.ravel_multi_index(tuple(at.T), tuple(shape)), minlength=int(shape.prod())).reshape(shape)
    covered = ndimage.binary_closing(counts > 0, iterations=2)
    depth = ndimage.gaussian_filter(np.log1p(counts.astype(float)), 1.0)
    strength = np.where(covered, 0.16 + 0.30 * np.clip(depth / 2.2, 0, 1), 0.0)
    picture = np.zeros((shape[1], shape[0], 4), np.uint8)
    picture[..., :3] = np.round(255 * np.array(to_rgb("#6b6459")))
    picture[..., 3] = np.round(255 * strength.T)
    upper = lower + shape * cell_m
    extent = (lower[0], upper[0], lower[1], upper[1])
    limits = (axes.get_xlim(), axes.get_ylim())
    axes.imshow(picture, extent=extent, origin="lower", interpolation="none", zorder=0, aspect="equal")
    axes.set_xlim(limits[0])
    axes.set_ylim(limits[1])


def _draw_support(axes: Axes, assessment: Assessment) -> None:
    corners = assessment.support_polygon_m.reshape(-1, 2)
    if len(corners) >= 3:
        axes.add_patch(Polygon(corners, closed=True, facecolor="#0072B214", edgecolor=BLUE, linewidth=1.0, zorder=3))
    elif len(corners) == 2:
        axes.plot(*corners.T, color=BLUE, linewidth=1.0, zorder=3)


def _draw_feet(axes: Axes, assessment: Assessment) -> None:
    """Contact points and centres of pressure."""
    for foot in assessment.feet:
        points = foot.points_m[:, :2]
        axes.plot(*points.T, linestyle="none", marker="o", markersize=2.2, color=BLUE, markeredgewidth=0, zorder=4)
        if len(points) and foot.centre_m is not None:
            axes.plot(*foot.centre_m[:2], marker="+", markersize=7, markeredgewidth=1.0, color=INK, zorder=5)


def _draw_margin(axes: Axes, centre: Array, edge: Edge, span: float) -> None:
    """The edge that governs, and the distance of the centre of mass from it as a dimension."""
    foot = find_foot(centre, edge)
    axes.plot(*np.stack([edge.start_m, edge.end_m]).T, color=INK, linewidth=2.0, zorder=4, solid_capstyle="round")
    beyond = np.stack([min((edge.start_m, edge.end_m), key=lambda end: float(np.linalg.norm(end - foot))), foot])
    axes.plot(*beyond.T, color=INK, linewidth=0.6, linestyle=":", zorder=4)
    if np.linalg.norm(foot - centre) > 1e-6 * span:
        arrow = {"arrowstyle": "<|-|>,head_width=0.16,head_length=0.32", "color": INK, "linewidth": 0.8}
        axes.annotate("", _pair(foot), _pair(centre), arrowprops=arrow | {"shrinkA": 5.5, "shrinkB": 1.2}, zorder=7)


def _draw_centre(axes: Axes, p: Array, radius: float) -> None:
    """The usual sign of a centre of mass: a disc in quarters, two black, two white."""
    axes.add_patch(Circle(_pair(p), radius, facecolor="white", edgecolor="none", zorder=8))
    for start in (0, 180):
        axes.add_patch(Wedge(_pair(p), radius, start, start + 90, facecolor=INK, edgecolor="none", zorder=9))
    axes.add_patch(Circle(_pair(p), radius, facecolor="none", edgecolor=INK, linewidth=0.8, zorder=10))


def _draw_masses(axes: Axes, assessment: Assessment, columns: list[int]) -> None:
    """A circle for every element at its centre of mass, its area in proportion to the mass."""
    if not assessment.masses:
        return
    centres = np.array([mass.centre_m[columns] for mass in assessment.masses])
    share = np.array([mass.mass_kg for mass in assessment.masses])
    sizes = 110 * share / max(float(share.max()), 1e-12)
    axes.scatter(
        centres[:, 0], centres[:, 1], s=sizes, facecolors="#0072B226", edgecolors=BLUE, linewidths=0.4, zorder=4
    )


def _pair(p: Array | tuple[float, float]) -> tuple[float, float]:
    return float(p[0]), float(p[1])
