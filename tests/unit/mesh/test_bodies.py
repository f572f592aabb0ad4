"""Merging and splitting: bodies hang together by shared vertices, in an order that the geometry alone decides."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.mesh.bodies import join_surfaces, merge_vertices, split_bodies, winding_number
from core_calcs.mesh.surface import Surface


def test_merging_is_exact(make_box) -> None:
    box = make_box()
    corners = box.vertices[box.faces.ravel()]
    corners[0, 0] = np.nextafter(corners[0, 0], 1)
    merged = merge_vertices(Surface(corners, np.arange(36).reshape(-1, 3)))
    assert len(merged.vertices) == 9


def test_negative_zero_is_zero() -> None:
    vertices = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (-0.0, -0.0, 0), (0, 0, 1), (1, 0, -0.0)], float)
    assert len(merge_vertices(Surface(vertices, np.array([[0, 1, 2], [3, 4, 5]]))).vertices) == 4


def test_merging_agrees_with_numpy(rng: np.random.Generator) -> None:
    corners = rng.integers(0, 6, (3000, 3)) / 7.0
    merged = merge_vertices(Surface(corners, np.arange(3000).reshape(-1, 3)))
    whole = [row for row in corners.reshape(-1, 3, 3) if len(np.unique(row, axis=0)) == 3]
    assert len(merged.faces) == len(whole)
    assert merged.vertices[merged.faces] == pytest.approx(np.array(whole), abs=0)
    assert len(np.unique(merged.vertices, axis=0)) == len(merged.vertices)


def test_collisions_of_keys_do_no_harm(monkeypatch: pytest.MonkeyPatch, rng: np.random.Generator) -> None:
    monkeypatch.setattr("core_calcs.mesh.bodies._PRIMES", np.zeros(3, np.uint64))
    corners = rng.integers(0, 3, (300, 3)) / 7.0
    merged = merge_vertices(Surface(corners, np.arange(300).reshape(-1, 3)))
    assert len(np.unique(merged.vertices, axis=0)) == len(merged.vertices)


def test_order_of_bodies_is_from_the_head_and_does_not_depend_on_the_file(make_box, rng: np.random.Generator) -> None:
    places = [(0.0, 0.0, 0.0), (3.0, 0.0, 0.0), (1.0, 2.0, 0.0), (1.0, -2.0, 0.0), (1.0, 2.0, 5.0)]
    boxes = tuple(make_box(at=places[i]) for i in rng.permutation(5))
    surface = merge_vertices(join_surfaces(boxes))
    shuffled = Surface(surface.vertices, surface.faces[rng.permutation(len(surface.faces))])
    expected = [(3, 0, 0), (1, 2, 5), (1, 2, 0), (1, -2, 0), (0, 0, 0)]
    for variant in (surface, shuffled):
        middles = [body.vertices.mean(axis=0) for body in split_bodies(variant)]
        assert np.array(middles) == pytest.approx(np.array(expected), abs=1e-12)


def test_touching_at_one_vertex_is_one_body(make_box) -> None:
    two = join_surfaces((make_box((1, 1, 1)), make_box((1, 1, 1), at=(1, 1, 1))))
    assert len(split_bodies(merge_vertices(two))) == 1


def test_winding_number(make_box) -> None:
    points = np.array([(0.0, 0, 0), (1, 0, 0), (0.19, 0.14, 0.09), (0.21, 0, 0)])
    assert winding_number(make_box(), points) == pytest.approx([1, 0, 1, 0], abs=1e-12)


def test_nested_island_in_a_cavity_is_a_body_of_its_own(make_box) -> None:
    outer, inner, island = make_box((1, 1, 1)), make_box((0.8, 0.8, 0.8)), make_box((0.2, 0.2, 0.2))
    hollow = Surface(inner.vertices, inner.faces[:, ::-1])
    assert len(split_bodies(merge_vertices(join_surfaces((outer, hollow, island))))) == 2
