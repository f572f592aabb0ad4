"""Shaded pictures: what they cover is the silhouette, what is nearer hides what is farther, light comes from above."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.shading import Frame, shade_triangles
from core_calcs.mesh.silhouettes import measure_silhouette, outline_body, place_bodies
from core_calcs.mesh.surface import Surface


def look(points: np.ndarray, faces: np.ndarray, cells: int = 400, across: float = 4.0):
    frame = Frame(-across / 2, -across / 2, across / cells, cells, cells)
    return shade_triangles(np.asarray(points, np.float32), np.asarray(faces), frame)


def test_it_covers_what_the_silhouette_covers(rng: np.random.Generator) -> None:
    """Another route: rows that cross the boundary edges, exact along each."""
    balls = [trimesh.creation.icosphere(2, 0.5).apply_translation(rng.uniform(-1, 1, 3)) for _ in range(5)]
    bodies = [Surface(np.array(ball.vertices, float), np.array(ball.faces, np.int64)) for ball in balls]
    whole = trimesh.util.concatenate(balls)
    crowd = place_bodies([outline_body(body) for body in bodies], np.tile(np.eye(4), (5, 1, 1)))
    _, depth = look(whole.vertices, whole.faces)
    covered = np.isfinite(depth).sum() * 0.01**2
    assert covered == pytest.approx(measure_silhouette(crowd, np.array([0.0, 0.0, 1.0])).area_m2, rel=2e-3)


def test_depth_is_that_of_a_ball_and_light_falls_from_the_upper_left() -> None:
    ball = trimesh.creation.icosphere(5, 1.0)
    light, depth = look(ball.vertices, ball.faces)
    at = (np.arange(400) + 0.5) * 0.01 - 2
    x, y = np.meshgrid(at, at)
    inside = np.hypot(x, y) < 0.95
    np.testing.assert_allclose(depth[inside], np.sqrt(1 - x[inside] ** 2 - y[inside] ** 2), atol=2e-3)
    assert np.isnan(light[~np.isfinite(depth)]).all()
    bright, dark = (
        np.unravel_index(np.nanargmax(light), light.shape),
        np.unravel_index(np.nanargmin(light), light.shape),
    )
    assert bright[0] > 200 > bright[1], "lowest row first: upper left"
    assert dark[0] < 200 < dark[1]


def test_the_nearer_hides_the_farther_in_whichever_order_and_winding() -> None:
    near = np.array([(-1, -1, 1.0), (1, -1, 1.0), (0, 1, 1.0)])
    for faces in ([(0, 1, 2), (3, 4, 5)], [(3, 5, 4), (0, 2, 1)]):
        _, depth = look(np.concatenate([near, near - (0, 0, 2)]), np.array(faces))
        assert np.unique(depth[np.isfinite(depth)]).tolist() == [1.0]


def test_what_lies_outside_the_frame_or_on_edge_is_left_out() -> None:
    aside = np.array([(9, 9, 0.0), (12, 9, 0), (9, 12, 0), (0, -1, 0), (0, 0, 1), (0, 1, 0)])
    _, depth = look(aside, np.array([(0, 1, 2), (3, 4, 5)]))
    assert not np.isfinite(depth).any()
