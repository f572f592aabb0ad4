"""Made-up vertebrae that stand roughly in place, brought to each other: their facets and gaps are known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.articulation.assembly import mate_from_rough
from core_calcs.articulation.column import column_axes
from core_calcs.articulation.facets import find_facets
from core_calcs.articulation.motions import move_partner, move_patch, move_rigidly
from core_calcs.mesh.distance_grid import mark_near
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import apply, make_transform


@pytest.fixture(scope="module")
def neighbours(shapes):
    """Two vertebrae, their end plates .1 apart; x to the head."""
    return shapes.prepare("V1", shapes.make_vertebra(0.5)), shapes.prepare("V2", shapes.make_vertebra(-0.5))


def axes_between(headward, tailward):
    return column_axes(headward.centre, tailward.centre)


def turn(element, degrees, axis=(0.3, 0.8, -0.5)):
    """Turned about its own centre."""
    R = Rotation.from_rotvec(np.radians(degrees) * np.array(axis) / np.linalg.norm(axis)).as_matrix()
    return move_rigidly(element, make_transform(R, element.centre - R @ element.centre))


@pytest.mark.parametrize("apart", [-0.08, 0.0, 0.3, 1.2, 2.0])
@pytest.mark.parametrize("gap", [0.02, 0.1])
def test_the_end_plates_stand_at_the_gap_wanted(neighbours, apart, gap):
    head, tail = move_partner(neighbours[0], [apart, 0, 0]), neighbours[1]
    found = mate_from_rough(tail, head, axes_between(head, tail), True, gap)
    assert [patch.gap_m for patch in found.facets.centrum] == pytest.approx([gap, gap], abs=0.006)
    assert found.child.centre - neighbours[0].centre == pytest.approx([gap - 0.1, 0, 0], abs=0.03)
    assert Rotation.from_matrix(found.D[:3, :3]).magnitude() < np.radians(3)


@pytest.mark.parametrize("degrees", [4, 8])
def test_a_child_turned_a_little_comes_back(neighbours, degrees):
    head, tail = neighbours
    askew = turn(move_partner(tail, [-0.1, 0.05, 0.03]), degrees)
    found = mate_from_rough(head, askew, axes_between(head, askew), False, 0.1)
    back = found.D[:3, :3] @ turn_of(tail, askew)
    assert np.degrees(Rotation.from_matrix(back).magnitude()) < 1.0
    assert found.child.centre == pytest.approx(tail.centre, abs=0.02)
    assert found.child.centre == pytest.approx(apply(found.D, askew.centre[None])[0], abs=1e-12)


def turn_of(before, after):
    """(3, 3) by which an element was turned."""
    ours, theirs = (one.samples.points - one.centre for one in (before, after))
    return Rotation.align_vectors(theirs, ours)[0].as_matrix()


def test_a_gap_that_is_not_known_is_what_the_facets_make_of_it(neighbours):
    head, tail = neighbours
    found = mate_from_rough(head, move_partner(tail, [-0.05, 0, 0]), axes_between(head, tail), False)
    assert abs(found.D[1, 3]) < 0.01
    assert 0 < np.mean([patch.gap_m for patch in found.facets.centrum]) < 0.2


def test_facets_of_elements_far_apart_are_those_found_in_place(neighbours):
    """The same samples but for a few, whatever lies between the two; zygapophyses included."""
    head, tail = neighbours
    placed = find_facets(head, tail, axes_between(head, tail))
    away = move_partner(head, [1.3, 0, 0])
    apart = find_facets(away, tail, axes_between(away, tail))
    assert apart.confidence == "found"
    assert "closing up" in apart.reason
    for first, second in zip(placed.pairs, apart.pairs, strict=True):
        for one, other in zip(first, second, strict=True):
            assert one.kind == other.kind
            assert len(np.intersect1d(one.index, other.index)) > 0.95 * len(np.union1d(one.index, other.index))
            assert other.gap_m - one.gap_m == pytest.approx(1.3 * abs(one.normal[0]), abs=0.02)


def test_a_facet_goes_with_its_element(neighbours):
    """Its samples about the rim, denser than its element's, as well."""
    head, tail = neighbours
    moved = turn(move_partner(head, [0.2, 0, 0.1]), 30)
    R = turn_of(head, moved)
    D = make_transform(R, moved.centre - R @ head.centre)
    for pair in find_facets(head, tail, axes_between(head, tail)).pairs:
        patch = next(patch for patch in pair if patch.element is head)
        there = move_patch(patch, moved, D)
        np.testing.assert_allclose(there.points, apply(D, patch.points), atol=1e-9)
        np.testing.assert_allclose(there.normal, R @ patch.normal, atol=1e-9)
        near = there.element.samples.points[there.index].mean(axis=0)
        np.testing.assert_allclose(near, there.points.mean(axis=0), atol=0.02)


def test_an_element_moved_is_the_element_of_what_was_moved(shapes):
    """Its distances as well, though its grid is not made again; turned twice and moved."""
    surface = shapes.make_box((0.9, 0.8, 0.6))
    D = make_transform(Rotation.from_rotvec([0.4, -0.9, 0.3]).as_matrix(), [0.3, -0.2, 0.1])
    moved = move_rigidly(move_rigidly(shapes.prepare("V1", surface), D), D)
    there = shapes.prepare("V1", type(surface)(apply(D @ D, surface.vertices), surface.faces))
    assert moved.centre == pytest.approx(there.centre, abs=1e-12)
    assert moved.samples.points == pytest.approx(there.samples.points, abs=1e-9)
    assert moved.samples.normals == pytest.approx(there.samples.normals, abs=1e-9)
    assert moved.surface.vertices == pytest.approx(there.surface.vertices, abs=1e-12)
    assert len(moved.crests) > 8
    probes = there.samples.points[::7] + 0.02 * there.samples.normals[::7]
    assert moved.grid.distances(probes) == pytest.approx(there.grid.distances(probes), abs=0.006)
    away = np.einsum("ij,ij->i", moved.grid.gradients(probes), there.grid.gradients(probes))
    assert np.quantile(away, 0.1) > 0.95
    inside, outside = (there.samples.points + way * there.samples.normals for way in (-0.1, 0.1))
    near = mark_near(moved.grid, 0.0)
    assert len(near.find(inside.T.astype(np.float32), np.eye(4))) > 0.9 * len(inside)
    assert not len(near.find(outside.T.astype(np.float32), np.eye(4)))


def test_what_cannot_be_brought_together_is_refused(neighbours):
    head, tail = neighbours
    beside = move_partner(head, [-1.0, 0, 5.0])
    axes = axes_between(head, tail)
    with pytest.raises(SkeletonError, match="V1"):
        mate_from_rough(tail, beside, axes, True, 0.05)
    for gap in (-0.01, float("nan")):
        with pytest.raises(SkeletonError, match="gap"):
            mate_from_rough(tail, head, axes, True, gap)
