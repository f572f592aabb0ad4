"""Margins by direction."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.statics.polygon import find_outline
from core_calcs.statics.rose import measure_rose, spread_directions
from core_calcs.statics.stability import find_axes, measure_holding, measure_margins

RECTANGLE = np.array([[-2, -1, 0], [2, -1, 0], [2, 1, 0], [-2, 1, 0]], float)


def make_uneven(rng):
    points = rng.normal(size=(8, 3)) * [1, 1, 0.1]
    return find_axes(points[find_outline(points[:, :2])]), [*points[:, :2].mean(axis=0), 2.0]


def test_directions_go_round_once():
    azimuth, ways = spread_directions()
    assert len(azimuth) == 72
    np.testing.assert_allclose(ways[[0, 18, 36]], [[1, 0, 0], [0, 1, 0], [-1, 0, 0]], atol=1e-15)


def test_rectangle_by_hand():
    rose = measure_rose(find_axes(RECTANGLE), [0.3, 0.1, 2.0], 50e3, 4.0)
    np.testing.assert_allclose(rose.distance_m[[0, 18, 36, 54]], [1.7, 0.9, 2.3, 1.1])
    np.testing.assert_allclose(np.tan(rose.tip_angle_rad[[0, 18, 36, 54]]), np.array([1.7, 0.9, 2.3, 1.1]) / 2)
    np.testing.assert_allclose(rose.force_N[[0, 18, 36, 54]], 50e3 * np.array([1.7, 0.9, 2.3, 1.1]) / 4)
    assert rose.distance_m[9] == pytest.approx(0.9 * np.sqrt(2))


def test_no_direction_is_nearer_than_the_nearest_edge_and_one_comes_close(rng):
    for _ in range(30):
        axes, centre = make_uneven(rng)
        margins, rose = measure_margins(axes, centre, 1.0), measure_rose(axes, centre, 1.0, 2.0)
        assert rose.distance_m.min() >= margins.distance_m.min() - 1e-12
        assert rose.distance_m.min() <= margins.distance_m.min() / np.cos(np.radians(2.5)) + 1e-12


def test_tilting_the_world_by_the_tip_angle_takes_the_weight_over_the_edge(rng):
    """Ground, feet and body turned in space by scipy: the least holding moment of the weight is zero."""
    for _ in range(20):
        axes, centre = make_uneven(rng)
        rose = measure_rose(axes, centre, 5.0, 2.0)
        _, ways = spread_directions()
        for way, angle in zip(ways, rose.tip_angle_rad, strict=True):
            turn = Rotation.from_rotvec(angle * np.cross([0, 0, 1], way))
            gravity = turn.inv().apply([0, 0, -5.0])
            assert measure_holding(axes, gravity, centre).min() == pytest.approx(0, abs=1e-12)


def test_the_force_tips_and_a_little_less_does_not(rng):
    axes, centre = make_uneven(rng)
    rose = measure_rose(axes, centre, 5.0, 3.0)
    _, ways = spread_directions()
    for way, force in zip(ways, rose.force_N, strict=True):
        held = measure_holding(axes, [0, 0, -5.0], centre) + measure_holding(axes, force * way, [*centre[:2], 3.0])
        assert held.min() == pytest.approx(0, abs=1e-9)


def test_outside_there_is_no_rose():
    assert measure_rose(find_axes(RECTANGLE), [2.1, 0, 1.0], 1.0, 2.0) is None
