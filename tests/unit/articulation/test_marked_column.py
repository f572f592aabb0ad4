"""Facets of made-up vertebrae marked by hand: plates of known place and size."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.marked_column import find_marked_facets, tell_kind
from core_calcs.spatial.errors import SkeletonError

KINDS = ("centrum", "left zygapophysis", "right zygapophysis")


@pytest.fixture(scope="module")
def neighbours(shapes):
    return shapes.prepare("V1", shapes.make_vertebra(0.5)), shapes.prepare("V2", shapes.make_vertebra(-0.5))


@pytest.fixture(scope="module")
def lame(shapes):
    """The headward one without its left postzygapophysis."""
    whole = shapes.make_vertebra(0.5, tail=False)
    normal = shapes.zygapophysis_normal(-1)
    foot = np.array([0.0, -shapes.ZYGAPOPHYSIS_Y, shapes.ZYGAPOPHYSIS_Z])
    up = normal * (shapes.ZYGAPOPHYSIS_GAP + shapes.PLATE[2] / 2)
    turn = np.column_stack([[1.0, 0, 0], np.cross(normal, [1.0, 0, 0]), normal])
    return shapes.prepare("V1", shapes.join(whole, shapes.make_box(shapes.PLATE, foot + up, turn)))


def near(bone, place, radius):
    return np.flatnonzero(np.linalg.norm(bone.samples.points - place, axis=1) < radius)


def find(head, tail, marked):
    return find_marked_facets(head, tail, column_axes(head.centre, tail.centre), marked)


def test_what_is_marked_is_what_counts(shapes, neighbours):
    head, tail = neighbours
    place = shapes.expected_centroids(0.0)["left zygapophysis", "tailward"]
    mark = near(tail, place, 0.04)
    found = find(head, tail, {"V2": {"left zygapophysis": mark}})
    assert found.confidence == "found"
    assert [pair[0].kind for pair in found.pairs] == list(KINDS)
    assert np.array_equal(found.pairs[1][1].index, mark)
    assert found.pairs[1][1].how == "marked by hand"
    assert found.reason.startswith("left zygapophysis marked by hand; ")
    unaided = find(head, tail, {})
    assert np.array_equal(found.pairs[2][0].index, unaided.pairs[2][0].index)


def test_what_faces_a_mark_is_its_partner_where_nothing_was_found(shapes, lame, neighbours):
    """Without its left postzygapophysis the joint is ambiguous; the end plate's marked rest stands for it."""
    tail = neighbours[1]
    unaided = find(lame, tail, {})
    assert unaided.confidence == "ambiguous"
    place = shapes.expected_centroids(0.0)["left zygapophysis", "tailward"]
    with pytest.raises(SkeletonError, match="nothing of it faces the left zygapophysis that was marked on V2"):
        find(lame, tail, {"V2": {"left zygapophysis": near(tail, place, 0.04)}})


def test_a_mark_settles_what_was_in_doubt(shapes, lame, neighbours):
    """The right side alone, marked, is enough: somebody has looked."""
    tail = neighbours[1]
    place = shapes.expected_centroids(0.0)["right zygapophysis", "headward"]
    found = find(lame, tail, {"V1": {"right zygapophysis": near(lame, place, 0.06)}})
    assert [pair[0].kind for pair in found.pairs] == ["centrum", "right zygapophysis"]
    assert found.confidence == "found"
    assert found.reason.startswith("right zygapophysis marked by hand")


def test_what_was_marked_is_told_by_its_place(shapes, neighbours):
    head, tail = neighbours
    axes = column_axes(head.centre, tail.centre)
    for (kind, where), place in shapes.expected_centroids(0.0).items():
        bone = head if where == "headward" else tail
        assert tell_kind(bone, near(bone, place, 0.05), axes) == kind
