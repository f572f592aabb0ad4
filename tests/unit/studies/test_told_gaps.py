"""Gaps as the user says them: one figure, or a wedge's two heights; typed, or in a table."""

from __future__ import annotations

import pytest

from core_calcs.articulation.rim_heights import RimHeights
from core_calcs.spatial.errors import SkeletonError, TableError
from core_calcs.studies.told_gaps import ToldGap, measure_gap, read_gap, read_gap_table


def test_one_figure_or_two_in_millimetres_or_shares():
    assert read_gap("it", "3.5", "mm") == ToldGap((0.0035,))
    assert read_gap("it", " 3.5 / 5 ", "mm") == ToldGap((0.0035, 0.005))
    assert read_gap("it", "0.04/0.06", "share") == ToldGap((0.04, 0.06), "share")
    assert measure_gap("L5", ToldGap((0.0035,)), 0.2) == 0.0035
    assert measure_gap("L5", ToldGap((0.0035, 0.005)), 0.2) == RimHeights(0.0035, 0.005)
    assert measure_gap("L5", ToldGap((0.04, 0.06), "share"), 0.2) == RimHeights(0.04 * 0.2, 0.06 * 0.2)
    assert RimHeights(0.002, 0.005).mean_m == pytest.approx(0.0035)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("3.5/", "its dorsal height is missing. Give both heights"),
        ("/5", "its ventral height is missing"),
        ("", "its gap is missing"),
        ("-1/5", "its ventral height, '-1', is no gap"),
        ("3/thick", "its dorsal height, 'thick', is no gap"),
        ("nan", "its gap, 'nan', is no gap"),
        ("3/inf", "its dorsal height, 'inf', is no gap"),
        ("3,5", "its gap, '3,5', is no gap"),
        ("3/4/5", "gives more than two figures for its gap"),
    ],
)
def test_what_is_no_gap_is_told_with_its_joint(text, words):
    for unit in ("mm", "share"):
        with pytest.raises(SkeletonError, match="joint of L5: ") as told:
            read_gap("joint of L5", text, unit)
        assert words in str(told.value)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (ToldGap((-0.001, 0.002)), "a disc cannot be -1 mm thick"),
        (ToldGap((0.001, float("nan"))), "a disc cannot be nan mm thick"),
        (ToldGap((0.001, 0.9)), "check the unit"),
        (ToldGap((0.1, 1.1), "share"), "check the unit"),
        (ToldGap(()), "0 figures are given"),
        (ToldGap((0.001, 0.001, 0.001)), "3 figures are given"),
    ],
)
def test_a_height_that_no_disc_has_is_told_with_its_joint(told, words):
    with pytest.raises(SkeletonError, match="joint of L5: ") as refused:
        measure_gap("L5", told, 0.2)
    assert words.lower() in str(refused.value).lower()


def test_a_table_says_each_joint_one_way(tmp_path):
    path = tmp_path / "gaps.csv"
    path.write_text(
        "joint;gap_mm;ventral_mm;dorsal_mm;gap_share;ventral_share;dorsal_share\n"
        "L5;3.5;;;;;\nL6;; 3.5;5;;;\n\nL7;;;;0.05;;\nCa1;;;;;0.04;0.06\n",
        encoding="utf-8-sig",
    )
    assert read_gap_table(path) == {
        "L5": ToldGap((0.0035,)),
        "L6": ToldGap((0.0035, 0.005)),
        "L7": ToldGap((0.05,), "share"),
        "Ca1": ToldGap((0.04, 0.06), "share"),
    }
    path.write_text("ventral_mm,joint,dorsal_mm\n1,L6,2\n", encoding="utf-8")
    assert read_gap_table(path) == {"L6": ToldGap((0.001, 0.002))}


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("joint,ventral_mm,dorsal_mm\nL5,3,\n", SkeletonError, "joint of L5 (PATH, row 2): its dorsal_mm is missing"),
        ("joint,ventral_mm\nL5,3\n", SkeletonError, "joint of L5 (PATH, row 2): its dorsal_mm is missing"),
        ("joint,gap_mm\nL5,thick\n", SkeletonError, "joint of L5 (PATH, row 2): its gap_mm, 'thick', is no gap"),
        ("joint,ventral_mm,dorsal_mm\nL5,3,-4\n", SkeletonError, "joint of L5 (PATH, row 2): its dorsal_mm, '-4'"),
        (
            "joint,gap_mm,ventral_mm,dorsal_mm\nL5,3,3,4\n",
            SkeletonError,
            "joint of L5 (PATH, row 2): its gap is given in two ways",
        ),
        ("joint,gap_mm\nL5,\n", SkeletonError, "joint of L5 (PATH, row 2): no gap is given for it"),
        ("joint,gap_mm\nL5,1\nL5,2\n", TableError, "PATH, row 3: L5 is in it twice"),
        ("joint,gap_mm\n,1\n", TableError, "PATH, row 2: it names no joint"),
        ("joint,gap_mm\nL5,1,5\n", TableError, "PATH, row 2: it has 3 cells, the header 2"),
        ("joint,gap\nL5,1\n", TableError, "PATH, row 1: unknown column gap"),
        ("gap_mm\n1\n", TableError, "PATH, row 1: no column joint"),
        ("joint,gap_mm,gap_mm\nL5,1,2\n", TableError, "PATH, row 1: no column joint, or a column twice"),
        ("", TableError, "PATH: it holds no rows. Begin it with the header joint,gap_mm,"),
    ],
)
def test_what_is_wrong_with_a_table_is_told_with_row_and_joint(tmp_path, text, error, words):
    path = tmp_path / "gaps.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(error) as told:
        read_gap_table(path)
    assert words.replace("PATH", str(path)) in str(told.value)
    with pytest.raises(TableError, match="cannot be read"):
        read_gap_table(tmp_path / "nowhere.csv")
