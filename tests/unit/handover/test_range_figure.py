"""The figures of the ranges as SVG: bars where the limits are, marks and names that occur, room for many joints."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from core_calcs.document.document import SkeletonDocument
from core_calcs.handover.figure_names import LABEL_PT, MOST_LABELS, measure_names
from core_calcs.handover.range_figure import RangeFigure, draw_ranges
from core_calcs.handover.use_figure import draw_uses
from core_calcs.skeleton.joint import AxisLimit, Stop, StopReason
from core_calcs.skeleton.pose import Pose
from core_calcs.studies.ranges import AxisRange, JointRange, RangeTable, list_ranges

Kept = tuple[SkeletonDocument, Path]
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def table(box_document: Kept) -> RangeTable:
    document, _ = box_document
    return list_ranges(document.skeleton, document.poses)


def draw(joints: list[JointRange], looks: dict[int, int], axes: tuple[int, ...] = (0,)) -> ElementTree.Element:
    svg = draw_ranges(RangeFigure(joints, axes, looks, True, "figure", "ranges"))
    return ElementTree.fromstring(svg.replace("<svg ", f'<svg xmlns="{SVG[1:-1]}" ', 1) if "xmlns=" not in svg else svg)


def read_texts(svg: ElementTree.Element) -> list[str]:
    return ["".join(text.itertext()) for text in svg.iter(f"{SVG}text")]


def read_bars(svg: ElementTree.Element) -> list[tuple[float, float]]:
    """Top and bottom of every bar in the page's units, from the left: closed paths of the bars' grey or white."""
    bars = []
    for path in svg.iter(f"{SVG}path"):
        style = path.get("style", "")
        if re.search(r"fill: #(dcdad4|ffffff)", style) and "stroke: #8d8a83" in style:
            numbers = np.array(re.findall(r"-?[\d.]+", path.get("d", "")), float).reshape(-1, 2)
            bars.append((numbers[:, 0].min(), numbers[:, 1].min(), numbers[:, 1].max()))
    return [(top, bottom) for _, top, bottom in sorted(bars)]


def end_at(own: JointRange, low: StopReason, high: StopReason, low_deg: float, high_deg: float) -> JointRange:
    limit = AxisLimit(Stop(np.radians(low_deg), low, None), Stop(np.radians(high_deg), high, None))
    return replace(own, axes=(AxisRange("flexion", limit), *own.axes[1:]))


def test_bars_are_as_long_as_the_ranges(table: RangeTable) -> None:
    first, second = table.column[:2]
    joints = [end_at(first, "bone contact", "bone contact", -10, 20), end_at(second, "gap", "gap", -5, 10)]
    (top, bottom), (other_top, other_bottom) = read_bars(draw(joints, {}))
    assert (bottom - top) == pytest.approx(2 * (other_bottom - other_top), rel=1e-4)
    middle = top + (bottom - top) * 20 / 30
    assert other_top + (other_bottom - other_top) * 10 / 15 == pytest.approx(middle, abs=1e-2)


def test_a_search_that_met_nothing_does_not_flatten_the_rest(table: RangeTable) -> None:
    """150° that nothing stopped, beside 10°: the long bar is cut off at the frame, the short one stays readable."""
    first, second = table.column[:2]
    near = end_at(first, "bone contact", "facet overlap", -10, 10)
    cut, short = sorted(read_bars(draw([near, end_at(second, "search range", "search range", -150, 150)], {})))
    assert (short[1] - short[0]) == pytest.approx((cut[1] - cut[0]) / 1.12, rel=1e-3)
    both = [end_at(own, "search range", "search range", -150, 150) for own in (first, second)]
    lengths = [bottom - top for top, bottom in read_bars(draw(both, {}))]
    assert lengths[0] == pytest.approx(lengths[1])


def test_only_reasons_and_poses_that_occur_are_explained(table: RangeTable) -> None:
    contact = [end_at(own, "bone contact", "bone contact", -10, 10) for own in table.column[:3]]
    texts = read_texts(draw(contact, {1: 2}))
    assert "bone contact" in texts
    assert not {"gap", "facet overlap", "set by hand", "neutral"} & set(texts)
    assert "looking up / left" in texts


def test_a_pose_has_its_name_beside_its_line_where_there_is_room(box_document: Kept) -> None:
    document, _ = box_document
    high = {f"caudal {i}": np.radians([9.0, 0, 0]) for i in range(1, 11)}
    low = {f"caudal {i}": np.radians([-8.0, 0, 0]) for i in range(1, 11)}
    table = list_ranges(document.skeleton, (Pose("up", high), Pose("down", low), Pose("the same", low)))
    texts = read_texts(draw(list(table.column), {0: 0, 1: 1}))
    assert (texts.count("up"), texts.count("down")) == (2, 2)
    crowded = read_texts(draw(list(table.column), {1: 0, 2: 1}))
    assert crowded.count("the same") + crowded.count("down") == 2  # in the legend alone: the lines lie on each other


def test_unknown_limits_are_a_question_mark_and_no_bar(table: RangeTable) -> None:
    own = table.column[3]
    unknown = replace(own, axes=tuple(replace(axis, limit=None) for axis in own.axes))
    svg = draw([unknown, table.column[4]], {})
    assert read_texts(svg).count("?") == 1
    assert len(read_bars(svg)) == 1


@pytest.mark.parametrize("count", [1, 75, 76, 160])
def test_names_of_many_joints_do_not_run_into_each_other(table: RangeTable, count: int) -> None:
    joints = [
        replace(own, joint=replace(own.joint, child=f"vertebra {i}"))
        for i, own in enumerate(table.column[i % 22] for i in range(count))
    ]
    for svg in (
        draw_ranges(RangeFigure(joints, (0,), {}, True, "a", "ranges")),
        draw_uses(joints, [use.pose for use in joints[0].uses], "b", "uses"),
    ):
        named = re.findall(r">vertebra \d+</text>", svg)
        assert 0 < len(named) <= MOST_LABELS
        assert len(named) == -(-count // -(-count // MOST_LABELS))


def test_what_is_outside_is_crossed_out_in_the_strip(table: RangeTable) -> None:
    svg = draw_uses(table.column, table.poses, "uses", "use of the ranges")
    texts = re.findall(r">([^<>]+)</text>", svg)
    assert texts.count("✕") == 1 + sum(use.state == "fails" for own in table.column for use in own.uses) == 2
    assert {"neutral", "looking up / left", "at neutral", "50–75 %"} <= set(texts)


@pytest.mark.parametrize("name", ["Humerus.L", "MMMMMMMM", "ill", "Wirbel 12 größer"])
def test_names_below_a_figure_have_room_in_the_widest_font(name: str) -> None:
    """Held against matplotlib's own drawing: as wide as the bounding box of the text that it draws."""
    figure = Figure(dpi=720)
    box = figure.text(0.1, 0.5, name, fontsize=LABEL_PT, family="DejaVu Sans").get_window_extent(
        FigureCanvasAgg(figure).get_renderer()
    )
    assert measure_names(["i", name], LABEL_PT) == pytest.approx(box.width / 720, abs=0.02)
    assert measure_names([], LABEL_PT) == 0
