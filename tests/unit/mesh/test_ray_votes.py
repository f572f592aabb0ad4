"""Inside or outside by rays, against the winding number and against bodies known."""

from __future__ import annotations

import numpy as np
import trimesh

from core_calcs.mesh.bodies import winding_number
from core_calcs.mesh.ray_votes import lie_inside
from core_calcs.mesh.surface import Surface

ORIGIN, SIDE = np.array([-0.6, -0.6, -0.6]), 0.0437


def as_surface(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64))


def make_cells() -> tuple[np.ndarray, np.ndarray]:
    """All cells of a grid in an order of no meaning, and their middles."""
    cells = np.random.default_rng(3).permutation(np.argwhere(np.ones((28, 28, 28), bool)))
    return cells, ORIGIN + (cells + 0.5) * SIDE


def test_knot_agrees_with_winding_number() -> None:
    """A torus and a box that overlap: twice round counts as inside."""
    torus = trimesh.creation.torus(0.35, 0.12, major_sections=31, minor_sections=17)
    block = trimesh.creation.box((0.3, 0.5, 0.2)).apply_translation([0.3, 0.01, 0.02])
    surface = as_surface(trimesh.util.concatenate([torus, block]))
    cells, middles = make_cells()
    expected = np.abs(winding_number(surface, middles[:4000])) > 0.5
    np.testing.assert_array_equal(lie_inside(surface, ORIGIN, SIDE, cells[:4000]), expected)
    assert 200 < expected.sum() < 3000


def test_inside_out_and_hollow() -> None:
    outer, inner = trimesh.creation.icosphere(3, radius=0.5), trimesh.creation.icosphere(3, radius=0.3)
    inner.invert()
    both = trimesh.util.concatenate([outer, inner])
    cells, middles = make_cells()
    radius = np.linalg.norm(middles, axis=1)
    sure = (np.abs(radius - 0.5) > 0.01) & (np.abs(radius - 0.3) > 0.01)
    expected = (radius < 0.5) & (radius > 0.3)
    for faces in (both.faces, both.faces[:, ::-1]):
        found = lie_inside(Surface(np.array(both.vertices), np.array(faces)), ORIGIN, SIDE, cells)
        np.testing.assert_array_equal(found[sure], expected[sure])


def test_missing_triangles_are_outvoted() -> None:
    """Five of a hundred triangles missing: of the cells none in five hundred is on the wrong side."""
    ball = as_surface(trimesh.creation.icosphere(4, radius=0.5))
    rng = np.random.default_rng(5)
    kept = rng.random(len(ball.faces)) > 0.05
    cells, middles = make_cells()
    radius = np.linalg.norm(middles, axis=1)
    sure = np.abs(radius - 0.5) > 0.02
    found = lie_inside(Surface(ball.vertices, ball.faces[kept]), ORIGIN, SIDE, cells)
    assert (found[sure] != (radius[sure] < 0.5)).mean() < 2e-3
