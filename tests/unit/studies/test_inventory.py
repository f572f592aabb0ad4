"""Counting a table: the rows are made up."""

from __future__ import annotations

import pytest

from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import TableError
from core_calcs.studies.inventory import (
    Expected,
    Numbering,
    SeriesCount,
    count_kind,
    read_expected,
    take_inventory,
)


def make_row(element: str, series: str, position: int | None, side: str, attachment: str = "fixed") -> TableRow:
    return TableRow("a.stl", None, "mm", element, series, position, side, "", attachment, "", "not known")  # type: ignore[arg-type]


def test_counts_gaps_and_partners() -> None:
    rows = [
        make_row("C1", "cervical", 1, "middle"),
        make_row("C4", "cervical", 4, "middle"),
        make_row("C2", "cervical", 2, "middle", "left out"),
        make_row("Rib_1.L", "ribs", 1, "left"),
        make_row("Rib_1.R", "ribs", 1, "right"),
        make_row("Rib_2.R", "ribs", 2, "right"),
    ]
    assert take_inventory(rows) == (
        SeriesCount("cervical", 0, 2, 0, (Numbering("c", (1, 4), (2, 3)),), ()),
        SeriesCount("ribs", 1, 0, 2, (Numbering("rib", (1, 2), ()),), ("Rib_2.R",)),
    )


def test_kinds_with_the_same_numbers_are_counted_apart() -> None:
    """A chevron 2 does not fill the place of a lost caudal 2."""
    rows = [make_row(f"caudal {n}", "caudal", n, "middle") for n in (1, 3, 4)]
    rows += [make_row(f"chevron {n}", "caudal", n, "middle") for n in (1, 2)]
    (count,) = take_inventory(rows)
    assert count.numberings == (Numbering("caudal", (1, 3, 4), (2,)), Numbering("chevron", (1, 2), ()))


def test_kinds_that_go_on_from_each_other_are_one_numbering() -> None:
    names = ["Atlas", "Axis", "C3", "C5"]
    rows = [make_row(name, "cervical", n, "middle") for name, n in zip(names, (1, 2, 3, 5), strict=True)]
    (count,) = take_inventory(rows)
    assert count.numberings == (Numbering("c", (1, 2, 3, 5), (4,)),)


def test_partners_by_words_of_the_side() -> None:
    rows = [make_row("femur left", "limb", None, "left"), make_row("tibia sin", "limb", None, "left")]
    rows.append(make_row("tibia dex", "limb", None, "right"))
    assert take_inventory(rows)[0].unpaired == ("femur left",)


def test_series_run_from_the_head() -> None:
    rows = [make_row("Femur.L", "limb", None, "left"), make_row("Skull", "skull", None, "middle")]
    found = take_inventory(rows)
    assert [(count.series, count.elements) for count in found] == [("skull", 1), ("limb", 1)]


def test_expected_counts_go_by_name_else_by_series() -> None:
    rows = [make_row(f"caudal {n}", "caudal", n, "middle") for n in (1, 2)]
    rows += [make_row("chevron 1", "caudal", None, "middle"), make_row("caudal 3", "caudal", 3, "middle", "left out")]
    rows.append(make_row("Ilium.L", "girdle", None, "left"))
    assert read_expected(" caudal = 44; girdle=2,") == (Expected("caudal", 44), Expected("girdle", 2))
    assert [count_kind(rows, name) for name in ("Caudal", "chevron", "girdle", "rib")] == [2, 1, 1, 0]


@pytest.mark.parametrize("text", ["caudal", "caudal=many", "=4", "caudal=-1"])
def test_expected_counts_that_say_nothing(text: str) -> None:
    with pytest.raises(TableError, match="does not say how many of what"):
        read_expected(text)
