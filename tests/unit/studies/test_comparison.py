"""Poses side by side: the measures of each, and which is best and worst."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.handover.comparison_figure import draw_compared
from core_calcs.handover.comparison_report import _write_row
from core_calcs.studies.assess import assess
from core_calcs.studies.chains import name_chains
from core_calcs.studies.comparison import MEASURES, ComparedRow, compare_poses, measure_pose, rank_as_read, rank_values


def test_each_value_is_the_assessments(box_document: tuple[SkeletonDocument, Path]) -> None:
    document = box_document[0]
    found = [assess(document.skeleton, pose, document.build, document.site) for pose in document.poses]
    measured = [measure_pose(name_chains(document.skeleton), own) for own in found]
    rows = {row.name: row for row in compare_poses(measured)}
    assert list(rows) == [name for name, _, _ in MEASURES]
    assert rows["Mass"].values == tuple(own.mass_kg for own in found)
    assert rows["Mass"].best == rows["Mass"].worst == (), "the same in all poses: none is better"
    assert rows["Margin"].values == tuple(own.distance_margin_m for own in found)
    neutral, raised = found
    better = 0 if neutral.distance_margin_m > raised.distance_margin_m else 1
    assert (rows["Margin"].best, rows["Margin"].worst) == ((better,), (1 - better,))
    forces = [max((foot.force_N, foot.foot) for foot in own.feet) for own in found]
    assert rows["Worst foot"].values == tuple(pytest.approx(force) for force, _ in forces)
    worst = {joint.child: joint for joint in raised.joints}[rows["Neck moment"].places[1]]
    assert rows["Neck moment"].values[1] == pytest.approx(float((worst.moment_Nm**2).sum() ** 0.5))
    assert measured[1].state == "fails", "caudal 3 is turned beyond its limit"


def test_what_is_not_known_is_neither_best_nor_worst(box_document: tuple[SkeletonDocument, Path]) -> None:
    document = box_document[0]
    found = assess(document.skeleton, document.poses[0], document.build, document.site)
    lifted = replace(
        found,
        feet=tuple(replace(foot, force_N=None) for foot in found.feet),
        distance_margin_m=None,
        joints=tuple(replace(joint, moment_Nm=None) for joint in found.joints),
        uses=tuple(replace(use, inside_rad=None) for use in found.uses),
    )
    measured = [measure_pose(name_chains(document.skeleton), own) for own in (found, lifted)]
    rows = {row.name: row for row in compare_poses(measured)}
    for name in ("Margin", "Worst foot", "Neck moment", "Tail moment", "Outside range"):
        assert rows[name].values[1] is None
        assert rows[name].best == rows[name].worst == ()


def test_where_there_is_no_neck_its_moment_is_not_said_to_be_unknown(
    box_document: tuple[SkeletonDocument, Path],
) -> None:
    document = box_document[0]
    chains = {child: kind for child, kind in name_chains(document.skeleton).items() if kind != "neck"}
    found = [assess(document.skeleton, pose, document.build, document.site) for pose in document.poses]
    rows = {row.name: row for row in compare_poses([measure_pose(chains, own) for own in found])}
    assert rows["Neck moment"].lacks == "no neck"
    assert set(rows["Neck moment"].values) == {None}
    assert rows["Tail moment"].lacks == ""
    assert {row.lacks for row in rows.values()} == {"", "no neck"}
    assert _write_row(rows["Neck moment"])[0].figure == "no neck"
    bars = draw_compared([own.pose for own in found], list(rows.values()), "bars")
    assert "no neck" in bars
    assert "not known" not in bars


@pytest.mark.parametrize(
    ("values", "better", "best", "worst"),
    [
        ((3.0, 1.0, 2.0), "more", (0,), (1,)),
        ((3.0, 1.0, 2.0), "less", (1,), (0,)),
        ((3.0, None, 3.0 + 1e-9), "less", (), ()),
        ((3.0, None, -2.0, -2.0), "more", (0,), (2, 3)),
        ((None, 5.0), "more", (), ()),
        ((0.0, 0.0), "less", (), ()),
    ],
)
def test_ranks(values, better, best, worst) -> None:
    assert rank_values(values, better) == (best, worst)


@pytest.mark.parametrize(
    ("cells", "best", "worst"),
    [
        (("86", "-169", "86"), (0, 2), (1,)),
        (("86.0", "-169", "86.1"), (2,), (1,)),
        (("86", "86", "86"), (), ()),
        (("86", "not known", "86"), (), ()),
    ],
)
def test_what_reads_alike_is_as_good_as_each_other(cells, best, worst) -> None:
    values = tuple(None if cell == "not known" else float(cell) + 0.01 * i for i, cell in enumerate(cells))
    row = ComparedRow("Margin", "m", values, ("", "", ""), *rank_values(values, "more"))
    ranked = rank_as_read(row, cells)
    assert (ranked.best, ranked.worst) == (best, worst)
