"""Partial factors and combinations of EN 1990, and its static equilibrium, against worked values."""

from __future__ import annotations

import numpy as np

from core_calcs.actions.combinations import CHARACTERISTIC, find_worst, list_strength
from core_calcs.site.actions import Factors
from core_calcs.statics.equ import Action, combine_overturning, find_overturning_factors, split_weights
from core_calcs.statics.stability import find_axes

READ = "Steel Buildings in Europe, MSB03 (infosteel.eu), after EN 1990, tables A1.2"
WORKED = "closed form: EN 1990, (6.10) to (6.14)"
AGAINST = np.array([[1.0]])
WIND, SNOW = 0.6, 0.5
"""psi 0, EN 1990, table A1.1: as the worked combinations below have them."""


def combine(permanent, variable, shares, expressions):
    """The worst of plain numbers: one cut, one component, every action in one way; its value, what leads, factors."""
    parts = [np.array([[[value]]]) for value in variable]
    found = find_worst([[permanent]], parts, expressions, shares, AGAINST)
    return float(found.value[0]), int(found.leading[0]), expressions[int(found.expression[0])].name


def test_the_site_starts_from_equ_and_str(check_value):
    """What the user may change is, unchanged, the sets for static equilibrium and for strength."""
    site = Factors()
    got = [site.permanent_against, site.permanent_for, site.variable_against]
    check_value("EQU: permanent against, for; variable", READ, "S", [1.10, 0.90, 1.50], got, rel=1e-12)
    got = [site.strength_against, site.strength_for, site.strength_variable]
    check_value("STR: permanent against, for; variable", READ, "S", [1.35, 1.00, 1.50], got, rel=1e-12)
    check_value("the site's share beside a leading action", "EN 1990, table A1.1, category C", "M", 0.7,
                site.accompanying, rel=1e-12)  # fmt: skip
    (plain,) = list_strength(site)
    check_value("(6.10): 1.35 G + 1.5 W + .75 S", READ, "S", [1.35, 1.5, 0.75],
                [plain.greatest, *plain.weigh(np.array([WIND, SNOW]), 0)], rel=1e-12)  # fmt: skip
    check_value("(6.10): 1.35 G + 1.5 S + .9 W", READ, "S", [1.35, 0.9, 1.5],
                [plain.greatest, *plain.weigh(np.array([WIND, SNOW]), 1)], rel=1e-12)  # fmt: skip


def test_wind_and_snow(check_value):
    """G 10, W 4, S 2 kN: wind leads; where the snow is 4 and the wind 2 the snow does."""
    (plain,) = list_strength(Factors())
    got, leading, _ = combine(10.0, [4.0, 2.0], [WIND, SNOW], (plain,))
    check_value("(6.10) for G 10, W 4, S 2: wind leads [kN]", WORKED, "D", 21.0, got, rel=1e-12)
    assert leading == 0
    own = plain.greatest * 10 + plain.weigh(np.array([WIND, SNOW]), 1) @ [4.0, 2.0]
    check_value("(6.10) for G 10, W 4, S 2, snow leading [kN]", WORKED, "D", 20.1, own, rel=1e-12)
    assert combine(10.0, [2.0, 4.0], [WIND, SNOW], (plain,))[1] == 1


def test_a_larger_case(check_value):
    """G 30, W 8, S 3 kN: (6.10) 54.75; (6.10a) 49.95 governs over (6.10b) 48.675."""
    case, variable, shares = "for G 30, W 8, S 3", [8.0, 3.0], [WIND, SNOW]
    got, leading, _ = combine(30.0, variable, shares, list_strength(Factors()))
    check_value(f"(6.10) {case} [kN]", WORKED, "D", 54.75, got, rel=1e-12)
    assert leading == 0
    alone, reduced = list_strength(Factors(reduction=0.85))
    check_value(f"(6.10a) {case} [kN]", WORKED, "D", 49.95, combine(30.0, variable, shares, (alone,))[0], rel=1e-12)
    got = combine(30.0, variable, shares, (reduced,))[0]
    check_value(f"(6.10b), xi .85, {case} [kN]", WORKED, "D", 48.675, got, rel=1e-12)
    both, leading, name = combine(30.0, variable, shares, (alone, reduced))
    check_value(f"the worse of (6.10a) and (6.10b) {case} [kN]", WORKED, "D", 49.95, both, rel=1e-12)
    assert (leading, name) == (-1, "6.10a")
    got = combine(30.0, variable, shares, CHARACTERISTIC)[0]
    check_value(f"characteristic: 30 + 8 + .5·3 {case} [kN]", WORKED, "D", 39.5, got, rel=1e-12)


def test_what_relieves_counts_nothing(check_value):
    """G 10 kN against wind of -4, person of 2: 13.5 + 3; upwards, G for it: -10 + 6."""
    (plain,) = list_strength(Factors())
    got = combine(10.0, [-4.0, 2.0], [WIND, SNOW], (plain,))[0]
    check_value("(6.10) for G 10, W -4, person 2 [kN]", WORKED, "D", 16.5, got, rel=1e-12)
    got = combine(-10.0, [4.0, -2.0], [WIND, SNOW], (plain,))[0]
    check_value("(6.10) upwards for G -10, W 4 [kN]", WORKED, "D", -4.0, got, rel=1e-12)
    assert combine(10.0, [], [], (plain,))[:2] == (13.5, -1)


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
