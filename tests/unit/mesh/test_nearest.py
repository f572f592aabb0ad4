"""Nearest points of surfaces against trimesh's, and against planes and edges known."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.nearest import NearestPoints, find_on_triangles
from core_calcs.mesh.surface import Surface

CORNERS = np.array([[0.0, 0, 0], [2, 0, 0], [0, 1, 0]])


@pytest.mark.parametrize(
    ("point", "expected"),
    [
        ((0.5, 0.25, 3), (0.5, 0.25, 0)),
        ((-1, -1, 1), (0, 0, 0)),
        ((1, -2, -1), (1, 0, 0)),
        ((5, 0, 0), (2, 0, 0)),
        ((1.4, 1.3, 0), (1, 0.5, 0)),
        ((0, 0, 0), (0, 0, 0)),
    ],
)
def test_on_a_triangle(point: tuple[float, ...], expected: tuple[float, ...]) -> None:
    found = find_on_triangles(np.array([point], float), CORNERS[None])
    assert found[0] == pytest.approx(np.array(expected, float))


@pytest.mark.parametrize("spacing", [0.02, 0.05])
def test_agrees_with_peer(spacing: float) -> None:
    """Never nearer than the nearest, and too far by no more than what the spacing of the samples leaves."""
    mesh = trimesh.creation.torus(0.4, 0.1, major_sections=48, minor_sections=24)
    rng = np.random.default_rng(11)
    points = rng.uniform(-0.5, 0.5, (2000, 3)) * (1, 1, 0.4)
    peer = trimesh.proximity.closest_point_naive(mesh, points)[1]
    surface = Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64))
    found = np.linalg.norm(points - NearestPoints(surface, spacing).find(points), axis=1)
    assert (found >= peer - 1e-12).all()
    off = peer > spacing
    assert (found - peer <= spacing**2 / (2 * peer) + 1e-12)[off].all()
    assert (found > peer + 1e-9)[off].mean() < 0.2
    assert (found - peer)[off].mean() < 1e-3 * spacing


def test_one_triangle() -> None:
    surface = Surface(CORNERS, np.array([[0, 1, 2]]))
    found = NearestPoints(surface, 10.0).find(np.array([[0.5, 0.25, 1.0]]))
    assert found[0] == pytest.approx([0.5, 0.25, 0])
