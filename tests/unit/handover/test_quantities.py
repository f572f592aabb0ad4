"""Figures as people read them."""

from __future__ import annotations

import math

import pytest

from core_calcs.handover.quantities import format_column, format_figure, format_quantity, format_setting


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (None, "not known"),
        (math.nan, "not known"),
        (0.0, "0"),
        (1234567.0, "1\u202f234\u202f567"),
        (416.4, "416"),
        (0.04567, "0.0457"),
        (-2.5, "−2.50"),
        (8.6e-17, "8.6·10⁻¹⁷"),
        (-9.97e-6, "−1.0·10⁻⁵"),
    ],
)
def test_figures(value: float | None, expected: str) -> None:
    assert format_figure(value) == expected


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (0.2204, "m", "220 mm"),
        (12.34, "m", "12.3 m"),
        (-0.0051, "m", "−5.10 mm"),
        (4080.0, "N", "4.08 kN"),
        (129.4, "N·m", "129 N·m"),
        (math.radians(16.5), "rad", "16.5°"),
        (2.0, "deg", "2.0°"),
        (None, "N", "not known"),
        (0.5, "% of the volume", "0.500 % of the volume"),
    ],
)
def test_quantities(value: float | None, unit: str, expected: str) -> None:
    assert format_quantity(value, unit) == expected


def test_a_column_lines_up() -> None:
    assert format_column([227.04, -0.0048, None, 41.86]) == ["227.0", "0.0", "not known", "41.9"]


def test_a_setting_is_shown_as_set() -> None:
    assert format_setting(0.02, "s") == "0.02 s"
    assert format_setting(5.0, "mm") == "5 mm"


@pytest.mark.parametrize(("value", "expected"), [(5.76e-7, "0.00 mm"), (-1e-9, "0.00 mm"), (0.003, "3.00 mm")])
def test_lengths_below_a_hundredth_of_a_millimetre_are_nothing(value: float, expected: str) -> None:
    assert format_quantity(value, "m") == expected
