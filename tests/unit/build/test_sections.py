"""Round sections and lattices, against the tables of the trade and independent volumes."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.build.lattices import fill_lattice
from core_calcs.build.sections import SECTIONS, find_section, make_section
from core_calcs.spatial.errors import CounterpoiseError


@pytest.mark.parametrize(
    ("name", "kg_per_m"),
    [
        ("CHS 60.3x4", 5.55),
        ("CHS 88.9x5", 10.3),
        ("CHS 114.3x6.3", 16.8),
        ("CHS 168.3x8", 31.6),
        ("CHS 168.3x10", 39.0),
        ("CHS 219.1x10", 51.6),
        ("CHS 244.5x10", 57.8),
    ],
)
def test_tubes_weigh_what_the_tables_print(name: str, kg_per_m: float) -> None:
    """Three digits, as printed in the tables of EN 10210-2 (from memory)."""
    assert find_section(name).kg_per_m == pytest.approx(kg_per_m, rel=5e-3)


def test_bar_of_50_mm() -> None:
    """Area 1963.5 mm², a textbook's closed form."""
    assert find_section("bar 50").kg_per_m == pytest.approx(1963.495e-6 * 7850, rel=1e-6)


def test_names_are_unique_and_what_does_not_fit_is_refused() -> None:
    assert len({section.name for section in SECTIONS}) == len(SECTIONS)
    with pytest.raises(CounterpoiseError, match="does not fit"):
        make_section(20.0, 10.0)
    with pytest.raises(CounterpoiseError, match="not in the table"):
        find_section("IPE 100")


@pytest.mark.parametrize("strut", [0.1, 0.3, 0.6])
def test_lattice_fills_what_counting_points_finds(strut: float) -> None:
    """Monte Carlo in one cell: within a distance of one of the three axes through its middle."""
    points = np.random.default_rng(3).uniform(-0.5, 0.5, (1_000_000, 3))
    squares = points**2
    inside = ((squares.sum(axis=1)[:, None] - squares) < (strut / 2) ** 2).any(axis=1)
    assert fill_lattice(1.0, strut) == pytest.approx(inside.mean(), abs=4 * inside.std() / 1000)


def test_struts_that_make_no_lattice_are_refused() -> None:
    with pytest.raises(CounterpoiseError, match="no lattice"):
        fill_lattice(0.01, 0.01)
