"""Clearance against closed forms, invariances, and every pair tried by itself."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.broad_phase import find_close_pairs
from core_calcs.mesh.clearance import find_baseline, find_overlaps, find_pairs
from core_calcs.mesh.clearance_bodies import gather_bodies, prepare_body
from core_calcs.mesh.penetration import refine_depths
from core_calcs.mesh.surface import Surface
from core_calcs.spatial.errors import MeshFileError
from core_calcs.spatial.transforms import invert, make_transform

HERE = np.eye(4)
TOLERANCE_S = 0.02
"""Depth is right to this share of the larger body's size."""


def make_body(mesh: trimesh.Trimesh):
    return prepare_body(Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64)), abs(mesh.volume))


def shift(x, y=0.0, z=0.0):
    return make_transform(np.eye(3), (x, y, z))


def try_two(one, other, X, forgiven=None):
    """The overlap of two bodies, the first at the origin; None where there is none."""
    crowd, places = gather_bodies([one, other]), np.stack([HERE, X])
    pairs = find_pairs(crowd, places)
    found = find_overlaps(crowd, places, pairs) if forgiven is None else find_overlaps(crowd, places, pairs, forgiven)
    return found if len(found.pairs) else None


@pytest.fixture(scope="module")
def balls():
    return make_body(trimesh.creation.icosphere(4, 0.1)), make_body(trimesh.creation.icosphere(4, 0.06))


@pytest.fixture(scope="module")
def boxes():
    return make_body(trimesh.creation.box((0.4, 0.3, 0.2))), make_body(trimesh.creation.box((0.1, 0.1, 0.1)))


@pytest.fixture(scope="module")
def capsule():
    return make_body(trimesh.creation.capsule(0.3, 0.02, count=(48, 48)))


@pytest.fixture(scope="module")
def plate():
    return make_body(trimesh.creation.box((0.5, 0.5, 0.03)))


@pytest.mark.parametrize("depth", [0.003, 0.02, 0.05])
def test_two_balls_overlap_by_radii_less_distance(balls, depth):
    large, small = balls
    direction = np.array([1.0, 2.0, -2.0]) / 3
    found = try_two(large, small, shift(*(direction * (0.16 - depth))))
    assert found.depths_m[0] == pytest.approx(depth, abs=TOLERANCE_S * large.size_m)
    # The deepest point is the pole of the one that looks at the other's middle.
    poles = [direction * (0.1 - share * depth) for share in (0, 1)]
    assert min(np.linalg.norm(found.places_W[0] - pole) for pole in poles) < 0.02


def test_balls_apart_do_not_overlap(balls):
    assert try_two(*balls, shift(0.1602)) is None
    assert try_two(*balls, shift(0.12, 0.12)) is None  # the boxes touch


def test_a_place_that_the_grid_has_just_inside_may_be_outside(balls):
    """Between its nodes a grid is linear: where the surface bends its sign may be wrong, not that of the triangles."""
    crowd = gather_bodies(balls[:1])
    directions = np.array([[1.0, 2.0, -2.0], [0.0, 0.6, 0.8], [1.0, 0.0, 0.0], [-2.0, 1.0, 2.0]])
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    for radius in (0.1002, 0.099):
        surface = crowd.bodies[0].surface_B
        places = radius * directions + surface.vertices.mean(axis=0)
        exact = refine_depths(crowd, np.zeros(4, int), places, np.full(4, 1e-5))
        # The faces of the ball lie up to 0.25 % of its radius below it.
        np.testing.assert_allclose(exact, 0.1 - radius, atol=2.5e-4)
        assert (np.sign(exact) == np.sign(0.1 - radius)).all()


def test_a_box_inside_a_box_is_as_deep_as_its_farthest_face(boxes):
    # The middle of the inner box is 0.02 off the outer one's mid-plane, and its faces 0.05 away from its middle: of
    # its points those in the middle of the outer box are deepest, half its height.
    found = try_two(*boxes, shift(0.0, 0.0, 0.02))
    assert found.depths_m[0] == pytest.approx(0.1, abs=TOLERANCE_S * boxes[0].size_m)


def test_a_box_in_a_face_is_as_deep_as_it_goes_in(boxes):
    found = try_two(*boxes, shift(0.2 + 0.05 - 0.013))
    assert found.depths_m[0] == pytest.approx(0.013, abs=TOLERANCE_S * boxes[0].size_m)


@pytest.mark.parametrize("depth", [0.004, 0.012])
def test_a_capsule_lying_in_a_plate(capsule, plate, depth):
    lying = make_transform([[0, 0, 1], [0, 1, 0], [-1, 0, 0]], (-0.15, 0, 0.015 + 0.02 - depth))
    found = try_two(plate, capsule, lying)
    assert found.depths_m[0] == pytest.approx(depth, abs=TOLERANCE_S * plate.size_m)
    assert try_two(plate, capsule, shift(0.0, 0.0, 0.05) @ lying) is None


def test_a_capsule_beside_a_plate_is_clear(capsule, plate):
    lying = make_transform([[0, 0, 1], [0, 1, 0], [-1, 0, 0]], (-0.15, 0, 0.015 + 0.02 + 0.0005))
    assert try_two(plate, capsule, lying) is None


def test_rods_that_cross_are_found_though_no_vertex_is_inside(rng):
    """The corners of either rod are far from the other: only points between them tell."""
    rod = make_body(trimesh.creation.box((1.0, 0.05, 0.05)))
    across = make_transform([[0, -1, 0], [1, 0, 0], [0, 0, 1]], (0.013, 0.021, 0.04))
    assert try_two(rod, rod, across).depths_m[0] == pytest.approx(0.01, abs=TOLERANCE_S * rod.size_m)
    assert try_two(rod, rod, shift(0, 0, 0.0105) @ across) is None


def crowd_of(balls, boxes, capsule, plate):
    return gather_bodies([*balls, *boxes, capsule, plate, *balls, capsule])


def scatter(rng, count, room=0.4):
    turns = np.linalg.qr(rng.normal(size=(count, 3, 3)))[0]
    turns[np.linalg.det(turns) < 0, :, 0] *= -1
    return make_transform(turns, rng.uniform(-room, room, (count, 3)))


def test_turned_and_moved_as_one_nothing_changes(balls, boxes, capsule, plate, rng):
    crowd, X = crowd_of(balls, boxes, capsule, plate), scatter(rng, 9, 0.2)
    first = find_overlaps(crowd, X, find_pairs(crowd, X))
    assert len(first.pairs) > 3
    whole = scatter(rng, 1, 5.0)[0]
    second = find_overlaps(crowd, whole @ X, find_pairs(crowd, whole @ X))
    assert second.pairs.tolist() == first.pairs.tolist()
    np.testing.assert_allclose(second.depths_m, first.depths_m, atol=1e-9)


def test_the_order_of_the_bodies_changes_nothing(balls, boxes, capsule, plate, rng):
    bodies, X = [*balls, *boxes, capsule, plate], scatter(rng, 6, 0.12)
    order = rng.permutation(6)
    one, other = gather_bodies(bodies), gather_bodies([bodies[k] for k in order])
    first = find_overlaps(one, X, find_pairs(one, X))
    second = find_overlaps(other, X[order], find_pairs(other, X[order]))
    depths = {tuple(sorted(order[pair])): depth for pair, depth in zip(second.pairs, second.depths_m, strict=True)}
    assert len(depths) == len(first.pairs) > 3
    for pair, depth in zip(first.pairs.tolist(), first.depths_m, strict=True):
        assert depths[tuple(pair)] == pytest.approx(depth, abs=1e-9)


@pytest.mark.parametrize("scale", [1e-3, 40.0])
def test_depth_grows_with_the_scale(scale):
    ball = trimesh.creation.icosphere(3, 0.1)
    depth = try_two(make_body(ball), make_body(ball), shift(0.18)).depths_m[0]
    ball.apply_scale(scale)
    assert try_two(make_body(ball), make_body(ball), shift(0.18 * scale)).depths_m[0] == pytest.approx(
        scale * depth, rel=1e-6
    )


def test_the_broad_phase_leaves_no_pair_out(balls, boxes, capsule, plate, rng):
    crowd, X = crowd_of(balls, boxes, capsule, plate), scatter(rng, 9, 0.3)
    every = np.array([(i, j) for i in range(9) for j in range(i + 1, 9)])
    near = find_pairs(crowd, X)
    assert len(near) < len(every)
    tried = find_overlaps(crowd, X, every)
    assert {tuple(pair) for pair in tried.pairs} <= {tuple(pair) for pair in near}
    np.testing.assert_array_equal(find_overlaps(crowd, X, near).depths_m, tried.depths_m)


def test_boxes_are_parted_where_only_an_edge_against_an_edge_tells():
    """Two rods crossing at a distance: no face's axis parts these turned boxes, that of two edges does."""
    turn = np.array([[1, 0, 0], [0, 0.5**0.5, -(0.5**0.5)], [0, 0.5**0.5, 0.5**0.5]])
    other = np.array([[0.5**0.5, 0, 0.5**0.5], [0, 1, 0], [-(0.5**0.5), 0, 0.5**0.5]])
    halves = np.array([[1, 0.1, 0.1], [0.1, 1, 0.1]])
    middles = np.zeros((2, 3))
    apart = [make_transform(turn, (0, 0, 0)), make_transform(other, (0, 0, 0.29))]
    assert not len(find_close_pairs(np.stack(apart), middles, halves))
    apart[1] = make_transform(other, (0, 0, 0.27))
    assert find_close_pairs(np.stack(apart), middles, halves).tolist() == [[0, 1]]


def test_what_overlaps_at_neutral_is_forgiven_there_and_no_deeper(balls):
    large, small = balls
    crowd, neutral = gather_bodies(balls), np.stack([HERE, shift(0.15)])
    forgiven = find_baseline(crowd, neutral, find_pairs(crowd, neutral))
    assert try_two(large, small, shift(0.15)).depths_m[0] == pytest.approx(0.01, abs=0.001)
    assert try_two(large, small, shift(0.15), forgiven) is None
    deeper = try_two(large, small, shift(0.14), forgiven)
    assert deeper.beyond_m[0] == pytest.approx(0.01, abs=TOLERANCE_S * large.size_m)
    assert deeper.forgiven_m[0] == pytest.approx(0.01, abs=TOLERANCE_S * large.size_m)


def test_overlap_elsewhere_is_not_forgiven(balls):
    large, small = balls
    crowd, neutral = gather_bodies(balls), np.stack([HERE, shift(0.15)])
    forgiven = find_baseline(crowd, neutral, find_pairs(crowd, neutral))
    behind = try_two(large, small, shift(-0.15), forgiven)
    assert behind.beyond_m[0] == pytest.approx(0.01, abs=TOLERANCE_S * large.size_m)


def test_a_ball_that_overlaps_its_socket_turns_on_and_its_neck_hits_the_rim(sockets):
    """.05 too large: what turns into its bed hits nothing; the neck does, no deeper than if the ball had fitted."""
    beyond = {}
    for name, radius in (("too large", sockets.BALL + 0.06), ("fitting", sockets.BALL)):
        crowd = gather_bodies([make_body(sockets.make_socket()), make_body(sockets.make_ball(radius))])
        neutral = np.stack([HERE, HERE])
        forgiven = find_baseline(crowd, neutral, np.array([[0, 1]]))
        for angle in np.radians([30, 50, 75]):
            turn = [[1, 0, 0], [0, np.cos(angle), -np.sin(angle)], [0, np.sin(angle), np.cos(angle)]]
            places = np.stack([HERE, make_transform(turn, np.zeros(3))])
            found = find_overlaps(crowd, places, np.array([[0, 1]]), forgiven)
            beyond[name, round(np.degrees(angle))] = float(found.beyond_m.max(initial=0.0))
    size = crowd.sizes_m.max()
    for angle in (30, 50):
        assert beyond["too large", angle] < TOLERANCE_S * size
        assert beyond["fitting", angle] == 0
    assert 0.07 < beyond["too large", 75] < beyond["fitting", 75]


def test_a_place_lies_in_both(boxes, capsule):
    crowd, X = gather_bodies([boxes[0], capsule]), np.stack([HERE, shift(0.03, 0.02, 0.0)])
    found = find_overlaps(crowd, X, find_pairs(crowd, X))
    local = (invert(X) @ np.append(found.places_W[0], 1))[:, :3]
    room = TOLERANCE_S * boxes[0].size_m
    assert (np.abs(local[0]) <= np.array([0.2, 0.15, 0.1]) + room).all()
    assert np.hypot(local[1, 0], local[1, 1]) <= 0.02 + room


def test_an_open_surface_has_its_inside(balls):
    whole = trimesh.creation.icosphere(4, 0.1)
    torn = trimesh.Trimesh(whole.vertices, np.delete(whole.faces, np.arange(0, len(whole.faces), 90), axis=0))
    body = prepare_body(Surface(np.array(torn.vertices), np.array(torn.faces, np.int64)), 4 / 3 * np.pi * 1e-3)
    found = try_two(body, balls[1], shift(0.13))
    assert found.depths_m[0] == pytest.approx(0.03, abs=TOLERANCE_S * body.size_m)


def test_points_lie_close_enough_everywhere(capsule, rng):
    """Between the points no place of the surface is farther from one than the depth's tolerance."""
    places, _ = trimesh.sample.sample_surface(
        trimesh.Trimesh(capsule.surface_B.vertices, capsule.surface_B.faces), 2000, seed=1
    )
    away = np.linalg.norm(places[:, None] - capsule.points_B[None], axis=2).min(axis=1)
    assert away.max() < capsule.size_m / 24


def test_a_sheet_has_no_inside_but_is_found_in_others(balls):
    corners = np.array([[0.0, -0.1, -0.1], [0, 0.1, -0.1], [0, 0.1, 0.1], [0, -0.1, 0.1]])
    sheet = prepare_body(Surface(corners, np.array([[0, 1, 2], [0, 2, 3]])), 0.0)
    found = try_two(balls[0], sheet, shift(0.07))
    assert found.depths_m[0] == pytest.approx(0.03, abs=TOLERANCE_S * balls[0].size_m)
    assert try_two(balls[0], sheet, shift(0.102)) is None


def test_a_surface_without_area_is_refused():
    with pytest.raises(MeshFileError, match="no area"):
        prepare_body(Surface(np.eye(3), np.array([[0, 1, 1]])), 0.0)
