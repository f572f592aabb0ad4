"""The support polygon."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from core_calcs.statics.polygon import find_outline, find_polygon_centroid, find_support_polygon

RECTANGLE = np.array([[-2, -1], [2, -1], [2, 1], [-2, 1]], float)


def measure_area(polygon):
    x, y = polygon.T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
@pytest.mark.parametrize("shift", [0.0, 1e4])
def test_polygon_is_that_of_qhull(rng, scale, shift):
    for count in (*range(3, 30), 33, 200, 3000):
        points = scale * rng.normal(size=(count, 2)) + shift
        polygon = find_support_polygon(points)
        area = measure_area(polygon - shift)
        assert area > 0  # counter-clockwise
        assert area == pytest.approx(ConvexHull(points - shift).volume, rel=1e-9)


def test_many_points_in_a_line_or_square_lose_no_corner(rng):
    line = rng.uniform(-1, 1, 500)[:, None] * [0.6, 0.8]
    assert np.linalg.norm(np.diff(find_support_polygon(line), axis=0)) == pytest.approx(np.ptp(line @ [0.6, 0.8]))
    grid = np.stack(np.meshgrid(np.arange(20.0), np.arange(20.0)), axis=-1).reshape(-1, 2)
    assert sorted(map(tuple, find_support_polygon(grid))) == [(0, 0), (0, 19), (19, 0), (19, 19)]


def test_points_along_edges_and_duplicates_drop_out():
    x, y = np.meshgrid(np.linspace(-2, 2, 9), np.linspace(-1, 1, 5))
    points = np.tile(np.column_stack([x.ravel(), y.ravel()]), (3, 1))
    polygon = find_support_polygon(points)
    assert sorted(map(tuple, polygon)) == sorted(map(tuple, RECTANGLE))
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    assert len(find_support_polygon(points @ turn.T + [1e3, -2e3])) == 4


@pytest.mark.parametrize("turn_rad", [0.0, 0.3, np.pi / 2, 2.0])
def test_points_in_a_line_have_two_ends(turn_rad):
    along = np.array([0.3, -1.0, 0.0, 2.0, 0.3])[:, None] * [np.cos(turn_rad), np.sin(turn_rad)]
    polygon = find_support_polygon(along + np.array([7, 8]))
    assert len(polygon) == 2
    assert np.linalg.norm(polygon[1] - polygon[0]) == pytest.approx(3.0)


def test_a_side_along_y_keeps_its_ends_whatever_rounding_does(rng):
    for _ in range(200):
        side = np.column_stack([rng.normal(size=5) * 1e-15, rng.uniform(-1, 1, 5)])
        polygon = find_support_polygon(np.concatenate([side, [[2.0, 0.3]]]))
        assert len(polygon) == 3
        np.testing.assert_allclose(sorted(polygon[:, 1]), sorted([side[:, 1].min(), side[:, 1].max(), 0.3]))


def test_one_place_is_one_point():
    assert len(find_outline(np.tile([3.0, 4.0], (5, 1)))) == 1
    assert len(find_outline(np.zeros((1, 2)))) == 1
    assert len(find_outline(np.zeros((0, 2)))) == 0


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(-3, 3), st.integers(-3, 3)), min_size=1, max_size=12))
def test_every_point_is_inside_the_polygon(points):
    """A coarse grid makes duplicates and points in line the rule."""
    points = np.array(points, float)
    polygon = find_support_polygon(points)
    if len(polygon) < 3:
        assert np.linalg.matrix_rank(points - points[0], tol=1e-6) < 2
        return
    along = np.roll(polygon, -1, axis=0) - polygon
    for point in points:
        offset = point - polygon
        across = along[:, 0] * offset[:, 1] - along[:, 1] * offset[:, 0]
        assert (across / np.hypot(*along.T)).min() >= -1e-9
    turns = along[:, 0] * np.roll(along, -1, axis=0)[:, 1] - along[:, 1] * np.roll(along, -1, axis=0)[:, 0]
    assert (turns > 0).all()


def test_centroid_is_that_of_the_area():
    np.testing.assert_allclose(find_polygon_centroid(RECTANGLE + np.array([5, 6])), [5, 6])
    np.testing.assert_allclose(find_polygon_centroid([[0, 0], [3, 0], [0, 3]]), [1, 1])
    # Three points on one side do not pull it there.
    np.testing.assert_allclose(find_polygon_centroid([[0, 0], [1, 0], [2, 0], [2, 2], [0, 2]]), [1, 1])
    np.testing.assert_allclose(find_polygon_centroid([[0, 0], [2, 4]]), [1, 2])
