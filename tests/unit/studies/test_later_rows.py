"""Rows that are made once somebody asks."""

from __future__ import annotations

from core_calcs.studies.later_rows import LaterRows


def test_rows_are_made_once_and_only_when_asked_for():
    made = []

    def make():
        made.append(1)
        return ("a", "b", "c")

    rows = LaterRows(3, make)
    assert len(rows) == 3
    assert made == []
    assert rows[1] == "b"
    assert rows[1:] == ("b", "c")
    assert list(rows) == ["a", "b", "c"]
    assert "c" in rows
    assert made == [1]
