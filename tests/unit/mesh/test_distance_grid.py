"""Signed distance of a box against its closed form, and of surfaces that are not sound."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.mesh.distance_grid import build_distance_grid, distances_to_triangles, mark_near
from core_calcs.mesh.surface import Surface
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import apply, make_transform

HALF = np.array([0.5, 0.4, 0.3])
CELL = 0.02


def box_distance(points):
    """Signed distance of an axis-aligned box: length of the outward excess, less the depth inside."""
    excess = np.abs(points) - HALF
    return np.linalg.norm(np.maximum(excess, 0), axis=1) + np.minimum(excess.max(axis=1), 0)


@pytest.fixture
def near_box(rng):
    points = rng.uniform(-1.3, 1.3, (20000, 3)) * HALF
    return points[np.abs(box_distance(points)) < 2.5 * CELL]


def test_box_is_measured_to_a_tenth_of_a_cell(make_box, near_box):
    grid = build_distance_grid(make_box(2 * HALF), CELL)
    error = np.abs(grid.distances(near_box) - box_distance(near_box))
    # between the nodes the value is interpolated: off by up to a fraction of a cell where the box has edges
    assert np.percentile(error, 95) < 0.1 * CELL
    assert error.max() < 0.6 * CELL


def test_sign_is_right_everywhere(make_box, rng):
    grid = build_distance_grid(make_box(2 * HALF), CELL)
    points = rng.uniform(-2, 2, (5000, 3)) * HALF
    far = np.abs(box_distance(points)) > CELL
    assert (np.sign(grid.distances(points[far])) == np.sign(box_distance(points[far]))).all()


def test_gradient_points_away(make_box):
    grid = build_distance_grid(make_box(2 * HALF), CELL)
    points = np.array([[0.51, 0, 0], [0.49, 0.1, 0.1], [0, -0.41, 0], [0, 0, 0.28]])
    expected = np.array([[1, 0, 0], [1, 0, 0], [0, -1, 0], [0, 0, 1]])
    assert np.abs(grid.gradients(points) - expected).max() < 1e-6


@pytest.mark.parametrize("harm", ["inside out", "doubled", "open"])
def test_unsound_surfaces_keep_their_inside(make_box, near_box, harm):
    box = make_box(2 * HALF)
    faces = {
        "inside out": box.faces[:, ::-1],
        "doubled": np.concatenate([box.faces, box.faces]),
        "open": box.faces[1:],
    }[harm]
    grid = build_distance_grid(Surface(box.vertices, faces), CELL)
    right = np.sign(grid.distances(near_box)) == np.sign(box_distance(near_box))
    assert right.mean() > 0.97


def test_quick_question_never_misses_a_near_point(make_box, near_box):
    grid = build_distance_grid(make_box(2 * HALF), CELL)
    X = make_transform(joint_rotation(np.array([0.3, -0.2, 0.5])), (0.02, -0.01, 0.03))
    for D in (np.eye(4), X):
        near = np.flatnonzero(grid.distances(apply(D, near_box)) < CELL)
        found = mark_near(grid, CELL).find(near_box.T.astype(np.float32), D)
        assert set(near.tolist()) <= set(found.tolist())
        assert len(near) < len(found) < len(near_box)
    assert not len(mark_near(grid, CELL).find(np.array([[9.0], [0.0], [0.0]], np.float32), np.eye(4)))


def test_a_grid_that_would_be_too_large_is_coarser(make_box):
    grid = build_distance_grid(make_box(2 * HALF), 1e-3)
    assert grid.values.size < 1e7
    assert grid.cell > 1e-3


def test_distance_to_a_triangle():
    corners = np.array([[[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    points = np.array([[0.2, 0.2, 0.5], [-1, 0, 0], [0.5, -2, 0], [2, 0, 1], [1, 1, 0]])
    expected = [0.5, 1.0, 2.0, np.sqrt(2), np.sqrt(0.5)]  # plane, edge, edge, corner, slanting edge
    assert distances_to_triangles(points, corners, np.zeros(5, np.int64)) == pytest.approx(expected)


def test_depths_beyond_the_band_are_kept_where_asked_for(make_box, rng):
    grid = build_distance_grid(make_box(2 * HALF), CELL, reach_inside=True)
    points = rng.uniform(-0.99, 0.99, (4000, 3)) * HALF
    deep = box_distance(points) < -grid.band - CELL
    assert deep.sum() > 100
    error = np.abs(grid.distances(points[deep]) - box_distance(points[deep]))
    assert np.percentile(error, 95) < 0.1 * CELL
    assert error.max() < 0.6 * CELL
    assert build_distance_grid(make_box(2 * HALF), CELL).distances(points[deep]).min() > -1.001 * grid.band
