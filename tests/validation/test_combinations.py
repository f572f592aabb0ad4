"""Partial factors and combinations of EN 1990, and its static equilibrium, against worked values."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.actions.combinations import (
    EQU,
    PEOPLE,
    REDUCTION,
    SET_C,
    SNOW,
    STR,
    TEMPERATURE,
    WIND,
    combine_accidental,
    combine_lasting,
    combine_reduced,
)
from core_calcs.site.actions import Factors
from core_calcs.statics.equ import Action, combine_overturning, find_overturning_factors, split_weights
from core_calcs.statics.stability import find_axes

READ = "Steel Buildings in Europe, MSB03 (infosteel.eu), after EN 1990, tables A1.2"
WORKED = "closed form: EN 1990, (6.10) to (6.11)"


def test_partial_factors(check_value):
    for name, factors, expected in (
        ("EQU", EQU, [1.10, 0.90, 1.50]),
        ("STR", STR, [1.35, 1.00, 1.50]),
        ("set C", SET_C, [1.00, 1.00, 1.30]),
    ):
        check_value(
            f"{name}: permanent against, for; variable", READ, "S", expected, list(vars(factors).values()), rel=1e-12
        )
    check_value("xi of (6.10b)", READ, "S", 0.85, REDUCTION, rel=1e-12)


def test_the_site_starts_from_equ(check_value):
    """What the user may change is, unchanged, the set for static equilibrium."""
    site = Factors()
    got = [site.permanent_against, site.permanent_for, site.variable_against]
    check_value("the site's factors: permanent against, for; variable", READ, "S", [1.10, 0.90, 1.50], got, rel=1e-12)
    check_value("the site's share beside a leading action", "EN 1990, table A1.1, category C", "M", 0.7,
                site.accompanying, rel=1e-12)  # fmt: skip


def test_shares(check_value):
    """From memory; that of wind and snow agree with the worked combinations below."""
    source = "EN 1990, table A1.1"
    check_value("psi of wind", source, "M", [0.6, 0.2, 0.0], list(vars(WIND).values()), rel=1e-12)
    check_value("psi of temperature", source, "M", [0.6, 0.5, 0.0], list(vars(TEMPERATURE).values()), rel=1e-12)
    check_value("psi of people, category C", source, "M", [0.7, 0.7, 0.6], list(vars(PEOPLE).values()), rel=1e-12)
    factors = [STR.permanent_against, STR.variable, STR.variable * SNOW.combination, STR.variable * WIND.combination]
    check_value("(6.10): 1.35 G + 1.5 W + .75 S; .9 W", READ, "S", [1.35, 1.5, 0.75, 0.9], factors, rel=1e-12)


def test_wind_and_snow(check_value):
    """G 10, W 4, S 2 kN: wind leads, then snow."""
    got = combine_lasting(10.0, [(4.0, WIND), (2.0, SNOW)])
    check_value("(6.10) for G 10, W 4, S 2: wind leads, snow leads [kN]", WORKED, "D", [21.0, 20.1], got, rel=1e-12)


def test_a_larger_case(check_value):
    """G 30, W 8, S 3, Ad 10 kN."""
    variable = [(8.0, WIND), (3.0, SNOW)]
    case = "for G 30, W 8, S 3"
    check_value(f"(6.10) {case} [kN]", WORKED, "D", [54.75, 52.20], combine_lasting(30.0, variable), rel=1e-12)
    alone, reduced = combine_reduced(30.0, variable)
    check_value(f"(6.10a) {case} [kN]", WORKED, "D", 49.95, alone, rel=1e-12)
    check_value(f"(6.10b) {case}, wind leads [kN]", WORKED, "D", 48.675, reduced[0], rel=1e-12)
    accident = combine_accidental(30.0, 10.0, variable)
    check_value(f"accidental {case}, Ad 10 [kN]", WORKED, "D", 41.6, accident[0], rel=1e-12)


def test_permanent_alone():
    assert combine_lasting(10.0, []) == [pytest.approx(13.5)]
    assert combine_accidental(10.0, 5.0, []) == [15.0]


def test_equilibrium_under_wind(check_value):
    """G 30 kN .8 m inside the edge, wind 8 kN at 1.5 m: what holds over what overturns, design values."""
    corners = np.array([[-0.8, -5, 0], [0.8, -5, 0], [0.8, 5, 0], [-0.8, 5, 0]], float)
    axes = find_axes(corners)
    sides = split_weights(axes, [30e3], [[0.0, 0.0, 2.0]])
    wind = Action("wind", "wind", np.array([[8e3, 0.0, 0.0]]), np.array([[0.0, 0.0, 1.5]]))
    found = combine_overturning(axes, sides, [wind], Factors())[1]
    least = float(1 / found.utilisation.max())
    check_value("EQU .9·30·.8 / (1.5·8·1.5)", "closed form: EN 1990, (6.7)", "D", 1.20, least, rel=1e-12)
    plain = find_overturning_factors(sides, 8e3 * 1.5)
    check_value("the same without factors: 30·.8 / (8·1.5)", "closed form", "D", 2.0, plain.min(), rel=1e-12)
