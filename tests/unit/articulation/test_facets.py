"""Facets of made-up vertebrae whose facets are flat plates of known place and size."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.facets import find_facets
from core_calcs.mesh.samples import Samples


@pytest.fixture(scope="module")
def neighbours(shapes):
    """Two vertebrae; x to the head, the joint at x = 0."""
    return shapes.prepare("V1", shapes.make_vertebra(0.5)), shapes.prepare("V2", shapes.make_vertebra(-0.5))


def move(element, X):
    """The same element elsewhere: its samples and grid turn with it only by translation, which is all that is used."""
    samples = element.samples
    moved = Samples(samples.points + X, samples.normals, samples.triangles, samples.area_m2)
    grid = replace(element.grid, lower=element.grid.lower + X)
    surface = replace(element.surface, vertices=element.surface.vertices + X)
    return replace(element, centre=element.centre + X, samples=moved, grid=grid, surface=surface)


def check_centroids(shapes, found, x, size, headward):
    expected = shapes.expected_centroids(x)
    for pair in found.pairs:
        for patch in pair:
            where = "headward" if patch.element.name == headward else "tailward"
            facet = patch.as_facet()
            off = np.linalg.norm(facet.centroid_m - expected[facet.kind, where])
            assert off < 0.05 * size, (facet.kind, where, off / size)


def test_all_three_facets_are_found_where_they_are(shapes, neighbours):
    head, tail = neighbours
    found = find_facets(head, tail, column_axes(head.centre, tail.centre))
    assert found.confidence == "found"
    assert [pair[0].kind for pair in found.pairs] == ["centrum", "left zygapophysis", "right zygapophysis"]
    check_centroids(shapes, found, 0.0, min(head.size, tail.size), "V1")


def test_normals_areas_and_gaps(shapes, neighbours):
    head, tail = neighbours
    found = find_facets(head, tail, column_axes(head.centre, tail.centre))
    centrum = [patch.as_facet() for patch in found.pairs[0]]
    assert centrum[0].normal == pytest.approx([-1, 0, 0], abs=0.02)
    assert centrum[1].normal == pytest.approx([1, 0, 0], abs=0.02)
    for facet in centrum:
        assert facet.area_m2 == pytest.approx(shapes.CENTRUM[1] * shapes.CENTRUM[2], rel=0.1)
        assert facet.gap_m == pytest.approx(0.1, abs=0.01)
    left = found.pairs[1][1].as_facet()
    assert left.normal @ shapes.zygapophysis_normal(1) > np.cos(np.radians(3))
    assert left.area_m2 == pytest.approx(shapes.PLATE[0] * shapes.PLATE[1], rel=0.2)
    assert left.gap_m == pytest.approx(shapes.ZYGAPOPHYSIS_GAP, abs=0.01)


def test_left_and_right_are_the_animals(neighbours):
    head, tail = neighbours
    found = find_facets(head, tail, column_axes(head.centre, tail.centre))
    for pair in found.pairs[1:]:
        for patch in pair:
            sign = 1 if patch.kind.startswith("left") else -1
            assert patch.points[:, 1].mean() * sign > 0


def test_far_apart_end_plates_are_closed_up_for_the_search(shapes, neighbours):
    head, tail = neighbours
    apart = move(head, np.array([0.5, 0, 0]))
    found = find_facets(apart, tail, column_axes(apart.centre, tail.centre))
    assert found.centrum is not None
    assert "closing up" in found.reason
    assert found.centrum[0].as_facet().gap_m == pytest.approx(0.6, abs=0.02)
    assert found.centrum[0].as_facet().centroid_m == pytest.approx([0.55, 0, 0], abs=0.03)


@pytest.mark.parametrize("overlap", [0.05, 0.1, 0.2])
def test_overlapping_elements_are_moved_apart_for_the_search(shapes, neighbours, overlap):
    """However deep they were pushed together the facets are the same ones; their end plates are .1 apart as made."""
    head, tail = neighbours
    size = min(head.size, tail.size)
    first, second = (
        find_facets(pushed, tail, column_axes(pushed.centre, tail.centre))
        for pushed in (move(head, np.array([-0.1 - share * size, 0, 0])) for share in (0.04, overlap))
    )
    assert second.confidence == "found"
    assert "moving apart" in second.reason
    indices = [[patch.index.tolist() for pair in found.pairs for patch in pair] for found in (first, second)]
    assert len(indices[0]) == 6
    assert indices[0] == indices[1]
    (centrum, _), *_ = second.pairs
    assert centrum.gap_m == pytest.approx(-overlap * size, abs=0.01 * size)  # of the placement given


def test_elements_that_do_not_face_each_other_have_no_facets(neighbours):
    head, tail = neighbours
    away = move(head, np.array([20.0, 0, 0]))
    found = find_facets(away, tail, column_axes(away.centre, tail.centre))
    assert found.confidence == "none"
    assert found.pairs == ()


def test_a_missing_zygapophysis_makes_it_ambiguous(shapes):
    whole = shapes.make_vertebra(0.5, tail=False)
    normal = shapes.zygapophysis_normal(1)
    foot = np.array([0.0, shapes.ZYGAPOPHYSIS_Y, shapes.ZYGAPOPHYSIS_Z])
    up = normal * (shapes.ZYGAPOPHYSIS_GAP + shapes.PLATE[2] / 2)
    turn = np.column_stack([[1.0, 0, 0], np.cross(normal, [1.0, 0, 0]), normal])
    head = shapes.prepare("V1", shapes.join(whole, shapes.make_box(shapes.PLATE, foot + up, turn)))
    tail = shapes.prepare("V2", shapes.make_vertebra(-0.5))
    found = find_facets(head, tail, column_axes(head.centre, tail.centre))
    assert found.confidence == "ambiguous"
    assert "left zygapophysis" in found.reason
    assert [pair[0].kind for pair in found.pairs] == ["centrum"]


def test_size_does_not_matter(shapes):
    small = 1e-3
    made = [shapes.make_vertebra(x) for x in (0.5, -0.5)]
    head, tail = (
        shapes.prepare(name, type(surface)(surface.vertices * small, surface.faces))
        for name, surface in zip(("V1", "V2"), made, strict=True)
    )
    found = find_facets(head, tail, column_axes(head.centre, tail.centre))
    assert found.confidence == "found"
    off = found.pairs[1][0].as_facet().centroid_m / small
    assert off == pytest.approx(shapes.expected_centroids(0.0)["left zygapophysis", "headward"], abs=0.05)
