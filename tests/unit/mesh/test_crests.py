"""Crests: vertices that stand out of a surface."""

from __future__ import annotations

import numpy as np
import trimesh

from core_calcs.mesh.crests import find_crests
from core_calcs.mesh.surface import Surface


def make_box(subdivisions):
    box = trimesh.creation.box((2.0, 1.0, 1.0))
    for _ in range(subdivisions):
        box = box.subdivide()
    return Surface(np.array(box.vertices), np.array(box.faces))


def test_of_a_box_the_edges_and_corners_stand_out_and_its_sides_do_not():
    found = find_crests(make_box(3), 0.01)
    at_side = np.isclose(np.abs(found), (1.0, 0.5, 0.5))
    assert (at_side.sum(axis=1) >= 2).all()
    for corner in np.ndindex(2, 2, 2):
        sign = np.array(corner) * 2 - 1
        assert np.linalg.norm(found - sign * (1.0, 0.5, 0.5), axis=1).min() < 1e-12


def test_of_a_cube_of_space_one_is_kept_the_one_that_stands_out_most():
    spike = trimesh.creation.icosphere(subdivisions=3)
    vertices = np.array(spike.vertices)
    vertices[7] *= 1.3
    surface = Surface(vertices, np.array(spike.faces))
    few = find_crests(surface, 0.5)
    assert np.linalg.norm(few - vertices[7], axis=1).min() < 1e-12
    assert len(few) <= np.prod(np.ceil((vertices.max(axis=0) - vertices.min(axis=0)) / 0.5))
    cubes = np.floor((few - vertices.min(axis=0)) / 0.5).astype(int)
    assert len(np.unique(cubes, axis=0)) == len(few)


def test_a_hollow_has_no_crest():
    ball = trimesh.creation.icosphere(subdivisions=3)
    inside_out = Surface(np.array(ball.vertices), np.array(ball.faces)[:, ::-1])
    assert len(find_crests(inside_out, 0.1)) == 0


def test_vertices_that_no_face_uses_are_left_aside():
    box = make_box(1)
    with_loose = Surface(np.vstack([box.vertices, (9.0, 9.0, 9.0)]), box.faces)
    assert np.abs(find_crests(with_loose, 0.1)).max() <= 1.0
