"""Counting a table: the rows are made up."""

from __future__ import annotations

from core_calcs.skeleton.table import TableRow
from core_calcs.studies.inventory import SeriesCount, name_partner, take_inventory


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
        SeriesCount("cervical", 0, 2, 0, (1, 4), (2, 3), ()),
        SeriesCount("ribs", 1, 0, 2, (1, 2), (), ("Rib_2.R",)),
    )


def test_series_run_from_the_head() -> None:
    rows = [make_row("Femur.L", "limb", None, "left"), make_row("Skull", "skull", None, "middle")]
    found = take_inventory(rows)
    assert [(count.series, count.elements) for count in found] == [("skull", 1), ("limb", 1)]


def test_partners() -> None:
    assert name_partner("Femur.L") == "Femur.R"
    assert name_partner("Femur_2.R") == "Femur_2.L"
    assert name_partner("Skull") == "Skull"
