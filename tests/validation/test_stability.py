"""Margins against tipping, against closed forms and the measures' own papers."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.statics.stability import find_overturning_factors, find_sliding_factor, measure_margins

W, CENTRE = 50e3, np.array([0.3, 0.1, 2.0])
RECTANGLE = np.array([[-2, -1], [2, -1], [2, 1], [-2, 1]], float)
EDGES = {"-y": 0, "+x": 1, "+y": 2, "-x": 3}
"""Edge of the counter-clockwise rectangle by the side it bounds."""
CASE = "W 50 kN, centre (.3, .1, h 2.0), rectangle ±2, ±1"


@pytest.fixture
def margins():
    return measure_margins(RECTANGLE, CENTRE, W, 0.0)


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
    on = measure_margins(RECTANGLE, [0.3, 1.0, 2.0], W, 0.0)
    beyond = measure_margins(RECTANGLE, [0.3, 1.2, 2.0], W, 0.0)
    for name in ("distance_m", "tip_angle_rad", "energy_J"):
        check_value(f"{name} on the edge", source, "D", 0.0, getattr(on, name)[EDGES["+y"]], abs=1e-12)
        check_value(f"{name} outside is negative", source, "D", True, bool(getattr(beyond, name)[EDGES["+y"]] < 0))


def test_slope_shifts_the_centre(check_value):
    """A slope of 5°: the tip angle shrinks by 5°, the centre's ground point moves by h tan 5°."""
    slope = np.radians(5)
    margins = measure_margins(RECTANGLE, CENTRE, W, 0.0)
    c, s = np.cos(slope), np.sin(slope)
    # Everything turned about x, towards +y; the polygon seen along the vertical.
    corners = np.column_stack([RECTANGLE[:, 0], c * RECTANGLE[:, 1]])
    heights = s * RECTANGLE[:, 1]
    tilted = np.array([CENTRE[0], c * CENTRE[1] + s * CENTRE[2], -s * CENTRE[1] + c * CENTRE[2]])
    level = -heights[2]
    on_slope = measure_margins(corners, tilted, W, level)
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


def test_push_on_a_narrow_base(check_value):
    """W 30 kN on feet ±.6 m, centre at 1.5 m, a push of 3 kN there."""
    square = np.array([[-0.6, -0.6], [0.6, -0.6], [0.6, 0.6], [-0.6, 0.6]])
    centre = np.array([0, 0, 1.5])
    margins = measure_margins(square, centre, 30e3, 0.0)
    source = "closed form: W d against F h"
    check_value("narrow base: tip angle [deg]", source, "D", 21.801, np.degrees(margins.tip_angle_rad.min()), abs=5e-4)
    factors = find_overturning_factors(square, centre, 30e3, [0.0, 3e3], 1.5)
    check_value("narrow base: overturning factor under 3 kN", source, "D", 4.0, factors[2], rel=1e-12)
    at_tipping = find_overturning_factors(square, centre, 30e3, [0.0, 12e3], 1.5)
    check_value("narrow base: 12 kN tips it", source, "D", 1.0, at_tipping[2], rel=1e-12)


def test_overturning_factor_of_wind(check_value):
    """G 50 kN 1.2 m inside the edge, wind 6 kN at 4 m: global factor, without partial factors."""
    square = np.array([[-1.2, -1.2], [1.2, -1.2], [1.2, 1.2], [-1.2, 1.2]])
    factors = find_overturning_factors(square, [0, 0, 2.0], 50e3, [6e3, 0.0], 4.0)
    check_value("global overturning factor, 50 kN against 6 kN at 4 m", "closed form", "D", 2.5, factors[1], rel=1e-12)


def test_sliding(check_value):
    """Friction .2 for steel on grout, EN 1993-1-8 from memory; the factor itself is a closed form."""
    got = find_sliding_factor(50e3, [3e3, 4e3], 0.2)
    check_value(
        "sliding: mu .2, W 50 kN, push 5 kN", "closed form: mu W / H; mu of EN 1993-1-8", "M", 2.0, got, rel=1e-12
    )
