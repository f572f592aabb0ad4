"""Vertebrae turned by half in columns that were made up: found, with the way back; what cannot be told is not."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.motions import move_rigidly
from core_calcs.articulation.turned import AS_PLACED, RING, TURNS, find_turned
from core_calcs.articulation.vertebra_shape import find_vertebra_shape
from core_calcs.articulation.vertebrae import prepare_column
from core_calcs.mesh.distance_grid import mark_near
from core_calcs.spatial.errors import Cancelled, SkeletonError
from core_calcs.spatial.transforms import invert, make_transform

COUNT = 4
SERIES = ["dorsal"] * COUNT
WAYS = [way for way in TURNS if way != AS_PLACED]


@pytest.fixture(scope="module")
def column(shapes):
    """Four vertebrae from the head to the tail, joined by end plates and zygapophyses; spines lean to the tail."""

    def make(k):
        x = -k * shapes.PITCH
        spine = shapes.make_box((0.3, 0.1, 0.5), (x - 0.2, 0, 0.95))
        return shapes.prepare(f"v{k}", shapes.join(shapes.make_vertebra(x), spine))

    return [make(k) for k in range(COUNT)]


def turn(element, way, shift=(0.0, 0.0, 0.0)):
    R = np.diag(np.array(TURNS[way], float))
    return move_rigidly(element, make_transform(R, element.centre - R @ element.centre + shift))


def put(column, i, element):
    return [element if k == i else own for k, own in enumerate(column)]


def test_as_it_stands_none_is_blamed_and_those_between_two_are_right(column):
    found = find_turned(column, SERIES)
    assert [verdict.elements for verdict in found] == [(f"v{k}",) for k in range(COUNT)]
    assert [verdict.decision for verdict in found[1:-1]] == [AS_PLACED] * (COUNT - 2)
    assert not any(verdict.decision == "wrong" for verdict in found)
    assert all(dict(verdict.ratings[0].figures)["zygapophyses that meet"] == 4 for verdict in found[1:-1])


@pytest.mark.parametrize("way", WAYS)
def test_a_turned_one_is_found_with_its_way_back_and_no_other_is_blamed(column, way):
    i = 2
    turned = turn(column[i], way, shift=(0.05, 0.0, -0.05))
    found = find_turned(put(column, i, turned), SERIES)
    assert [verdict.elements[0] for verdict in found if verdict.decision == "wrong"] == [f"v{i}"]
    verdict = found[i]
    assert verdict.ratings[0].way == way
    back = move_rigidly(turned, verdict.places[f"v{i}"])
    assert back.centre == pytest.approx(column[i].centre, abs=0.08)
    assert (back.samples.points - column[i].samples.points).std() < 0.05


def test_two_neighbours_turned_are_both_found(column):
    elements = put(put(column, 1, turn(column[1], "upside down")), 2, turn(column[2], "upside down"))
    found = find_turned(elements, SERIES, chosen=[1, 2])
    assert [(verdict.decision, verdict.ratings[0].way) for verdict in found] == [("wrong", "upside down")] * 2


def test_what_is_the_same_either_way_cannot_be_told(shapes):
    blocks = [shapes.prepare(f"b{k}", shapes.make_box(shapes.CENTRUM, (-k, 0, 0))) for k in range(3)]
    found = find_turned(blocks, ["caudal"] * 3)
    assert [verdict.decision for verdict in found] == ["undecided"] * 3
    assert all("cannot be told" in verdict.what for verdict in found)
    assert all(not verdict.places for verdict in found)


def test_only_those_chosen_are_judged(column):
    found = find_turned(column, SERIES, chosen=[3, 1])
    assert [verdict.elements[0] for verdict in found] == ["v1", "v3"]


def test_one_alone_is_no_column(column):
    with pytest.raises(SkeletonError, match="fewer than two"):
        find_turned(column[:1], SERIES[:1])


def test_it_can_be_stopped(column):
    def stop(_doing, share):
        if share > 0.3:
            raise Cancelled

    with pytest.raises(Cancelled):
        find_turned(column, SERIES, stop)


def test_a_far_neighbour_is_none(column):
    (verdict,) = find_turned([column[0], column[2], column[3]], SERIES[:3], chosen=[0])
    assert dict(verdict.ratings[0].figures)["surface that meets [s²]"] == 0


def test_the_shape_of_a_vertebra(column, shapes):
    own = prepare_column(column, SERIES)[2]
    assert own.middle == pytest.approx([-2, 0, 0], abs=0.12)
    assert own.shape.length_m == pytest.approx(shapes.CENTRUM[0], abs=0.08)
    roof, floor = 0.70, shapes.CENTRUM[2] / 2
    assert own.shape.canal_m == pytest.approx((roof + floor) / 2, abs=0.12)
    assert own.shape.X_WV[:3, :3] == pytest.approx(np.eye(3), abs=0.05)


def test_a_ring_is_not_judged(column, shapes):
    walls = [shapes.make_box((0.4, 0.15, 0.9), (0, y, 0)) for y in (-0.4, 0.4)]
    floors = [shapes.make_box((0.4, 0.9, 0.15), (0, 0, z)) for z in (-0.4, 0.4)]
    ring = shapes.prepare("ring", shapes.join(*walls, *floors))
    (verdict,) = find_turned([ring, *column[1:]], SERIES, chosen=[0])
    assert verdict.decision == "undecided"
    assert verdict.what == RING


def test_without_an_arch_there_is_no_canal(column, shapes):
    block = shapes.prepare("block", shapes.make_box(shapes.CENTRUM))
    assert find_vertebra_shape(block, prepare_column(column, SERIES)[0].axes).canal_m is None


def test_a_turned_grid_tells_the_same_distances(column, rng):
    own = column[1]
    axis = np.array([1.0, 2.0, -0.5]) / np.sqrt(5.25)
    K = np.cross(np.eye(3), axis)
    R = np.eye(3) - np.sin(0.7) * K + (1 - np.cos(0.7)) * K @ K
    X = make_transform(R, (0.3, -0.2, 0.1))
    moved = move_rigidly(move_rigidly(own, X), X)
    points = own.samples.points[::50] + rng.normal(scale=0.03, size=(len(own.samples.points[::50]), 3))
    there = points @ (R @ R).T + (X @ X)[:3, 3]
    assert moved.grid.distances(there) == pytest.approx(own.grid.distances(points), abs=1e-9)
    near = [
        mark_near(grid, 0.02).find(places.T.astype(np.float32), np.eye(4))
        for grid, places in ((own.grid, points), (moved.grid, there))
    ]
    assert len(np.intersect1d(*near)) > 0.99 * max(map(len, near)) > 0
    cos = np.einsum("ij,ij->i", moved.grid.gradients(there), own.grid.gradients(points) @ (R @ R).T)
    assert np.median(cos) > 0.99
    assert move_rigidly(moved, invert(X @ X)).centre == pytest.approx(own.centre)
