"""Margins against tipping, against closed forms and the measures' own papers."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.site.actions import Factors
from core_calcs.statics.equ import Action, combine_overturning, find_overturning_factors, split_weights
from core_calcs.statics.rose import measure_rose
from core_calcs.statics.sliding import find_sliding_factor
from core_calcs.statics.stability import find_axes, measure_force_angles, measure_holding, measure_margins

W, CENTRE = 50e3, np.array([0.3, 0.1, 2.0])
RECTANGLE = np.array([[-2, -1, 0], [2, -1, 0], [2, 1, 0], [-2, 1, 0]], float)
EDGES = {"-y": 0, "+x": 1, "+y": 2, "-x": 3}
"""Edge of the counter-clockwise rectangle by the side it bounds."""
CASE = "W 50 kN, centre (.3, .1, h 2.0), rectangle ±2, ±1"


@pytest.fixture
def margins():
    return measure_margins(find_axes(RECTANGLE), CENTRE, W)


@pytest.mark.parametrize(("side", "expected"), [("+x", 1.7), ("-x", 2.3), ("+y", 0.9), ("-y", 1.1)])
def test_static_margin(check_value, margins, side, expected):
    source = "static stability margin as defined by McGhee & Frank 1968; closed form"
    got = margins.distance_m[EDGES[side]]
    check_value(f"distance margin, {side} edge; {CASE} [m]", source, "D", expected, got, rel=1e-12)


@pytest.mark.parametrize(("side", "expected"), [("+x", 40.3645), ("-x", 48.9909), ("+y", 24.2277), ("-y", 28.8108)])
def test_tip_angle(check_value, margins, side, expected):
    got = np.degrees(margins.tip_angle_rad[EDGES[side]])
    check_value(f"tip angle, {side} edge [deg]", "closed form: atan(d/h)", "D", expected, got, abs=5e-5)


@pytest.mark.parametrize(("side", "expected"), [("+x", 31244.05), ("-x", 52397.51), ("+y", 9658.561), ("-y", 14127.12)])
def test_energy_margin(check_value, margins, side, expected):
    source = "energy stability margin as defined by Messuri & Klein 1985: W (sqrt(d² + h²) - h); closed form"
    got = margins.energy_J[EDGES[side]]
    check_value(f"energy margin, {side} edge [J]", source, "D", expected, got, rel=1e-6)


def test_least_of_each(check_value, margins):
    check_value("least distance margin [m]", "closed form", "D", 0.9, margins.distance_m.min(), rel=1e-12)
    check_value("least tip angle [deg]", "closed form", "D", 24.2277, np.degrees(margins.tip_angle_rad.min()), abs=5e-5)
    check_value("least energy margin [J]", "closed form", "D", 9658.561, margins.energy_J.min(), rel=1e-6)


def test_zero_on_the_edge_negative_outside(check_value):
    source = "closed form: every measure is 0 when the weight's line passes through the edge"
    on = measure_margins(find_axes(RECTANGLE), [0.3, 1.0, 2.0], W)
    beyond = measure_margins(find_axes(RECTANGLE), [0.3, 1.2, 2.0], W)
    for name in ("distance_m", "tip_angle_rad", "energy_J"):
        check_value(f"{name} on the edge", source, "D", 0.0, getattr(on, name)[EDGES["+y"]], abs=1e-12)
        check_value(f"{name} outside is negative", source, "D", True, bool(getattr(beyond, name)[EDGES["+y"]] < 0))


def test_slope_shifts_the_centre(check_value):
    """A slope of 5°: the tip angle shrinks by 5°, the centre's ground point moves by h tan 5°."""
    slope = np.radians(5)
    margins = measure_margins(find_axes(RECTANGLE), CENTRE, W)
    c, s = np.cos(slope), np.sin(slope)
    # Everything turned about x, towards +y: contacts at different heights.
    turn = np.array([[1, 0, 0], [0, c, s], [0, -s, c]])
    on_slope = measure_margins(find_axes(RECTANGLE @ turn.T), turn @ CENTRE, W)
    source = "closed form: slope"
    # Along the slope again: what the level body's margin has lost.
    shift = margins.distance_m[EDGES["+y"]] - on_slope.distance_m[EDGES["+y"]] / np.cos(slope)
    check_value("shift of the centre on a slope of 5° [m]", source, "D", 0.17498, shift, abs=5e-6)
    got = np.degrees(on_slope.tip_angle_rad[EDGES["+y"]])
    check_value(
        "tip angle, +y edge, ground tilted 5° towards it [deg]",
        source,
        "D",
        np.degrees(margins.tip_angle_rad[EDGES["+y"]]) - 5,
        got,
        abs=1e-9,
    )


FORCE_ANGLE = "force-angle measure, Papadopoulos & Rey 1996 (from memory); closed form"


@pytest.mark.parametrize(
    ("side", "plain", "with_distance"),
    [
        ("+x", 35224.7, 59882.0),
        ("-x", 42752.6, 98331.1),
        ("+y", 21142.70, 19028.43),
        ("-y", 25142.2, 27656.4),
    ],
)
def test_force_angle(check_value, side, plain, with_distance):
    """Both forms: angle × net force, and that times the distance of the net force's line from the edge."""
    found = measure_force_angles(find_axes(RECTANGLE), CENTRE, [0, 0, -W])
    angle, force, distance = (figure[EDGES[side]] for figure in (found.angle_rad, found.force_N, found.distance_m))
    check_value(f"force-angle, theta f, {side} edge [N]", FORCE_ANGLE, "D", plain, angle * force, rel=3e-6)
    got = angle * distance * force
    check_value(f"force-angle, theta d f, {side} edge [N m]", FORCE_ANGLE, "D", with_distance, got, rel=2e-6)


def test_force_angle_under_a_push(check_value):
    found = measure_force_angles(find_axes(RECTANGLE), CENTRE, [0, 5e3, -W])
    at = EDGES["+y"]
    angle, force, distance = found.angle_rad[at], found.force_N[at], found.distance_m[at]
    case = "5 kN at the centre towards +y"
    check_value(f"force-angle, net force; {case} [kN]", FORCE_ANGLE, "D", 50.24938, force / 1e3, abs=5e-6)
    check_value(f"force-angle, theta; {case} [deg]", FORCE_ANGLE, "D", 18.51715, np.degrees(angle), abs=5e-6)
    check_value(f"force-angle, theta f; {case} [N]", FORCE_ANGLE, "D", 16239.86, angle * force, abs=5e-3)
    got = angle * distance * force
    check_value(f"force-angle, theta d f; {case} [N m]", FORCE_ANGLE, "D", 11311.48, got, abs=5e-3)
    # The paper's other form of the same: the push as a moment about the centre, none of it horizontal.
    tipping = found.angle_rad[at] * found.force_N[at] > 0
    held = measure_holding(find_axes(RECTANGLE), [0, 5e3, -W], CENTRE)[at] > 0
    check_value("force-angle and moment about the edge agree", FORCE_ANGLE, "D", True, bool(tipping == held))


NARROW = np.array([[-0.6, -0.6, 0], [0.6, -0.6, 0], [0.6, 0.6, 0], [-0.6, 0.6, 0]])


def make_sides(corners, *weights):
    """Axes over corners, and the weights (newtons, point) on their own sides."""
    axes = find_axes(corners)
    return axes, split_weights(axes, [w for w, _ in weights], np.array([p for _, p in weights], float))


def test_push_on_a_narrow_base(check_value):
    """W 30 kN on feet ±.6 m, centre at 1.5 m, a push of 3 kN there."""
    axes, sides = make_sides(NARROW, (30e3, (0, 0, 1.5)))
    margins = measure_margins(axes, [0, 0, 1.5], 30e3)
    source = "closed form: W d against F h"
    check_value("narrow base: tip angle [deg]", source, "D", 21.801, np.degrees(margins.tip_angle_rad.min()), abs=5e-4)
    factors = find_overturning_factors(sides, -measure_holding(axes, [0.0, 3e3, 0.0], [0, 0, 1.5]))
    check_value("narrow base: overturning factor under 3 kN", source, "D", 4.0, factors[2], rel=1e-12)
    rose = measure_rose(axes, [0, 0, 1.5], 30e3, 1.5)
    check_value("narrow base: tipping force [kN]", source, "D", 12.0, rose.force_N.min() / 1e3, rel=1e-12)
    for push, expected, name in ((0, 6.849, "at rest"), (3e3, 3.791, "3 kN"), (12e3, 0, "12 kN")):
        found = measure_force_angles(axes, [0, 0, 1.5], [0, push, -30e3])
        got = (found.angle_rad * found.distance_m * found.force_N)[2] / 1e3
        check_value(f"narrow base: force-angle, theta d f, {name} [kN m]", FORCE_ANGLE, "D", expected, got, abs=5e-4)


EQU = "EN 1990, set EQU: .9 G_stb against 1.5 Q_dst + 1.1 G_dst (Steel Buildings in Europe MSB03, as quoted)"
WIND = Action("wind", "wind", np.array([[6e3, 0.0, 0.0]]), np.array([[0, 0, 4.0]]))
SQUARE = np.array([[-1.2, -1.2, 0], [1.2, -1.2, 0], [1.2, 1.2, 0], [-1.2, 1.2, 0]])


def test_overturning_by_wind(check_value):
    """G 50 kN 1.2 m inside the edge, wind 6 kN at 4 m."""
    axes, sides = make_sides(SQUARE, (50e3, (0, 0, 2)))
    case = combine_overturning(axes, sides, [WIND], Factors())[1]
    check_value("EQU: holds [kN m]", EQU, "S", 54.0, case.holding_Nm[1] / 1e3, rel=1e-12)
    check_value("EQU: overturns [kN m]", EQU, "S", 36.0, case.overturning_Nm[1] / 1e3, rel=1e-12)
    check_value("EQU: utilisation, 50 kN against 6 kN at 4 m", EQU, "S", 0.66667, case.utilisation[1], abs=5e-6)
    wind = -measure_holding(axes, WIND.forces_N[0], WIND.points_m[0])
    factor = find_overturning_factors(sides, wind)[1]
    check_value("the same: global factor", "closed form", "D", 2.5, factor, rel=1e-12)


def test_weight_beyond_the_edge_takes_the_other_factor(check_value):
    """The same with a neck of 5 kN 3 m beyond the edge: it takes 1.1, not .9."""
    axes, sides = make_sides(SQUARE, (50e3, (0, 0, 2)), (5e3, (4.2, 0, 4)))
    case = combine_overturning(axes, sides, [WIND], Factors())[1]
    check_value("EQU with a neck beyond: holds [kN m]", EQU, "S", 54.0, case.holding_Nm[1] / 1e3, rel=1e-12)
    check_value("EQU with a neck beyond: overturns [kN m]", EQU, "S", 52.5, case.overturning_Nm[1] / 1e3, rel=1e-12)
    check_value("EQU with a neck beyond: utilisation", EQU, "S", 0.97222, case.utilisation[1], abs=5e-6)
    wind = -measure_holding(axes, WIND.forces_N[0], WIND.points_m[0])
    factor = find_overturning_factors(sides, wind)[1]
    check_value("the same: global factor", "closed form", "D", 1.53846, factor, abs=5e-6)


def test_sliding(check_value):
    """Friction .2 for steel on grout, EN 1993-1-8 from memory; the factor itself is a closed form."""
    got = find_sliding_factor(50e3, [3e3, 4e3], 0.2)
    check_value(
        "sliding: mu .2, W 50 kN, push 5 kN", "closed form: mu W / H; mu of EN 1993-1-8", "M", 2.0, got, rel=1e-12
    )
