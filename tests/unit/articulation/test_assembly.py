"""Closing up made-up vertebrae whose gaps are known."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.assembly import close_up, move_partner, move_patch
from core_calcs.articulation.column import column_axes
from core_calcs.articulation.facets import find_facets
from core_calcs.spatial.errors import SkeletonError


@pytest.fixture(scope="module")
def neighbours(shapes):
    """Two vertebrae, their end plates .1 apart; x to the head."""
    return shapes.prepare("V1", shapes.make_vertebra(0.5)), shapes.prepare("V2", shapes.make_vertebra(-0.5))


def axes_between(headward, tailward):
    return column_axes(headward.centre, tailward.centre)


@pytest.mark.parametrize("apart", [-0.08, 0.0, 0.3, 1.2, 2.0])
@pytest.mark.parametrize("gap", [0.02, 0.1])
def test_the_end_plates_stand_at_the_gap_wanted(neighbours, apart, gap):
    head, tail = move_partner(neighbours[0], [apart, 0, 0]), neighbours[1]
    closed = close_up(tail, head, axes_between(head, tail), True, gap)
    assert closed.closing_m == pytest.approx(0.1 + apart - gap, abs=0.005)
    assert closed.shift_m == pytest.approx([-closed.closing_m, 0, 0], abs=1e-9)
    moved = move_partner(head, closed.shift_m)
    found = find_facets(moved, tail, axes_between(moved, tail))
    assert found.centrum is not None
    assert [patch.gap_m for patch in found.centrum] == pytest.approx([gap, gap], abs=0.005)


def test_a_child_towards_the_tail_is_moved_to_the_head(neighbours):
    head, tail = move_partner(neighbours[0], [0.3, 0, 0]), neighbours[1]
    closed = close_up(head, tail, axes_between(head, tail), False, 0.05)
    assert closed.shift_m == pytest.approx([0.35, 0, 0], abs=0.005)


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
    moved = move_partner(head, [0.2, 0, 0.1])
    for pair in find_facets(head, tail, axes_between(head, tail)).pairs:
        patch = next(patch for patch in pair if patch.element is head)
        there = move_patch(patch, moved, np.array([0.2, 0, 0.1]))
        np.testing.assert_allclose(there.points, patch.points + np.array([0.2, 0, 0.1]))
        np.testing.assert_allclose(
            there.element.samples.points[there.index].mean(axis=0), there.points.mean(axis=0), atol=0.02
        )


def make_leaning(shapes, x, headward):
    """A centrum with an arch, and plates .04 from their partners' whose normals lean to the column by 37°."""
    parts = [shapes.make_box(shapes.CENTRUM, (x, 0, 0)), shapes.make_box((0.5, 0.7, 0.2), (x, 0, 0.45))]
    for side in (1, -1):
        normal = np.array([0.8, -0.42 * side, 0.42])
        normal /= np.linalg.norm(normal)
        across = np.cross(normal, [0, 0, 1.0])
        across /= np.linalg.norm(across)
        turn = np.column_stack([across, np.cross(normal, across), normal])
        plate = np.array([0.0, 0.34 * side, 0.6]) + normal * (0.04 + 0.03 if headward else -0.03)
        parts.append(shapes.make_box((0.3, 0.3, 0.06), plate, turn))
    return shapes.join(*parts)


def test_of_facets_that_lean_to_the_column_the_closest_reach_the_gap_first(shapes):
    head = shapes.prepare("V1", make_leaning(shapes, 0.5, True))
    tail = shapes.prepare("V2", make_leaning(shapes, -0.5, False))
    closed = close_up(tail, head, axes_between(head, tail), True, 0.02)
    assert len(closed.facets.pairs) == 3
    assert closed.closing_m == pytest.approx((0.04 - 0.02) / 0.803, abs=0.006)  # the end plates would allow .08


def test_a_partner_moved_is_the_partner_of_what_was_moved(shapes):
    shift = np.array([0.3, -0.2, 0.1])
    surface = shapes.make_box((0.9, 0.8, 0.6))
    moved = move_partner(shapes.prepare("V1", surface), shift)
    there = shapes.prepare("V1", type(surface)(surface.vertices + shift, surface.faces))
    assert moved.centre == pytest.approx(there.centre, abs=1e-12)
    first, second = (np.unique(one.crests.round(9), axis=0) for one in (moved, there))
    assert len(first) > 8
    assert first == pytest.approx(second, abs=1e-9)
    assert moved.samples.points == pytest.approx(there.samples.points, abs=1e-12)
    probes = shift + np.random.default_rng(1).uniform(-0.5, 0.5, (200, 3))
    assert moved.grid.distances(probes) == pytest.approx(there.grid.distances(probes), abs=0.01)


def test_what_cannot_be_closed_up_is_refused(neighbours):
    head, tail = neighbours
    beside = move_partner(head, [-1.0, 0, 5.0])
    axes = axes_between(head, tail)
    with pytest.raises(SkeletonError, match="V1"):
        close_up(tail, beside, axes, True, 0.05)
    for gap in (-0.01, float("nan")):
        with pytest.raises(SkeletonError, match="gap"):
            close_up(tail, head, axes, True, gap)
