"""Local axes of chains: straight, bent, upright, over the top; stations; turned with the whole."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.statics.beams import find_beam_axes, measure_stations, resolve_wrenches


def make_arc(radius, count, start_rad=0.0, end_rad=np.pi / 2, up=(0, 0, 1.0)):
    """Points along an arc in the plane of x and `up`, and its tangents there."""
    a = np.linspace(start_rad, end_rad, count)
    along, up = np.array([1.0, 0, 0]), np.array(up, float)
    points = radius * (np.sin(a)[:, None] * along + (1 - np.cos(a))[:, None] * up)
    return points, np.cos(a)[:, None] * along + np.sin(a)[:, None] * up


def test_straight_chain_has_the_axes_of_its_line():
    points = np.array([[k, 0, 0.0] for k in range(4)])
    axes = find_beam_axes(points, None, None)
    np.testing.assert_allclose(axes, np.tile(np.eye(3), (4, 1, 1)), atol=1e-15)
    np.testing.assert_allclose(measure_stations(points), [0, 1, 2, 3])


@pytest.mark.parametrize("up", [(0, 0, 1.0), (0, 1.0, 0), (0, -0.6, 0.8)])
def test_tangents_of_an_arc(up):
    points, tangents = make_arc(2.0, 12, up=up)
    axes = find_beam_axes(points[1:-1], points[0], points[-1])
    np.testing.assert_allclose(axes[:, 0], tangents[1:-1], atol=1e-12)
    np.testing.assert_allclose(axes @ np.swapaxes(axes, 1, 2), np.tile(np.eye(3), (10, 1, 1)), atol=1e-12)
    np.testing.assert_allclose(np.linalg.det(axes), 1, atol=1e-12)
    np.testing.assert_allclose(axes[:, 1, 2], 0, atol=1e-12)
    assert (axes[:, 2, 2] > 0).all()


def test_side_is_kept_over_the_top():
    """A chain that bends up and back over itself in one plane: its side stays, its normal ends up pointing down."""
    points, _ = make_arc(1.0, 30, end_rad=0.95 * np.pi)
    axes = find_beam_axes(points, None, None)
    np.testing.assert_allclose(axes[:, 1], np.tile([0, 1.0, 0], (30, 1)), atol=1e-12)
    assert axes[0, 2, 2] > 0 > axes[-1, 2, 2]


@pytest.mark.parametrize("place", [0, 3, 6])
def test_upright_part_takes_the_side_of_its_neighbour(place):
    """Sideways of an upright tangent is that of the nearest joint that lies."""
    ways = np.tile([0.6, 0.3, 0.2], (7, 1))
    ways[max(0, place - 1) : place + 2] = (0, 0, 1)
    points = np.concatenate([[np.zeros(3)], np.cumsum(ways, axis=0)])
    axes = find_beam_axes(points, None, None)
    side = np.array([-0.3, 0.6, 0]) / np.hypot(0.3, 0.6)
    np.testing.assert_allclose(axes[:, 1], np.tile(side, (8, 1)), atol=1e-12)


def test_all_upright_and_all_in_one_point():
    column = find_beam_axes([[0, 0, k] for k in range(3)], None, None)
    np.testing.assert_allclose(column, np.tile([[0, 0, 1.0], [0, 1, 0], [-1, 0, 0]], (3, 1, 1)), atol=1e-15)
    one = find_beam_axes([[1.0, 2, 3]], None, None)
    np.testing.assert_allclose(one, [np.eye(3)], atol=1e-15)
    same = find_beam_axes(np.zeros((3, 3)), None, [2.0, 0, 0])
    np.testing.assert_allclose(same, np.tile(np.eye(3), (3, 1, 1)), atol=1e-15)


def test_axes_turn_about_the_vertical_and_mirror(rng):
    points = np.cumsum(rng.normal(size=(9, 3)) + np.array([1.5, 0, 0]), axis=0)
    axes = find_beam_axes(points, None, None)
    c, s = np.cos(1.1), np.sin(1.1)
    Q = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    np.testing.assert_allclose(find_beam_axes(points @ Q.T, None, None), axes @ Q.T, atol=1e-12)
    mirrored = find_beam_axes(points * [1, -1, 1], None, None)
    expected = axes * [1, -1, 1]
    expected[:, 1] *= -1
    np.testing.assert_allclose(mirrored, expected, atol=1e-12)


def test_wrench_along_the_axes(rng):
    axes = find_beam_axes(np.cumsum(rng.normal(size=(5, 3)), axis=0), None, None)
    wrenches = rng.normal(size=(5, 6))
    force, moment = resolve_wrenches(wrenches, axes)
    for k in range(5):
        np.testing.assert_allclose(force[k] @ axes[k], wrenches[k, :3])
        np.testing.assert_allclose(moment[k] @ axes[k], wrenches[k, 3:])
