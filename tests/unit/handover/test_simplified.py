"""The lighter copy for looking at."""

from __future__ import annotations

import numpy as np
import trimesh

from core_calcs.handover.simplified import simplify_surface
from core_calcs.mesh.surface import Surface


def test_a_sphere_stays_a_sphere() -> None:
    ball = trimesh.creation.icosphere(subdivisions=5, radius=0.5)
    surface = Surface(np.asarray(ball.vertices, float) + 3.0, np.asarray(ball.faces, np.int64))
    light = simplify_surface(surface, 2000)
    assert 1000 < len(light.faces) <= 2000
    radii = np.linalg.norm(light.vertices - 3.0, axis=1)
    assert radii.min() > 0.48
    assert radii.max() < 0.5 + 1e-12
    again = trimesh.Trimesh(light.vertices, light.faces, process=False)
    assert again.volume > 0.95 * ball.volume


def test_few_triangles_are_left_alone() -> None:
    surface = Surface(np.eye(3), np.array([[0, 1, 2]]))
    assert simplify_surface(surface, 4) is surface
