"""Silhouettes: what holds for any surfaces, closed or not, and what falls to each of them."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.silhouettes import measure_silhouette, outline_body, place_bodies
from core_calcs.mesh.surface import Surface

AT_HOME = np.eye(4)
ALONG_X = np.array([1.0, 0.0, 0.0])


def surface_of(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64))


def at(x: float, y: float, z: float) -> np.ndarray:
    X = np.eye(4)
    X[:3, 3] = x, y, z
    return X


def look(surfaces, X, direction=ALONG_X, rows=1024):
    return measure_silhouette(place_bodies([outline_body(own) for own in surfaces], np.array(X)), direction, rows)


@pytest.fixture
def box():
    return surface_of(trimesh.creation.box((1.0, 2.0, 3.0)))


def test_what_stands_behind_adds_nothing_and_shares_in_equal_parts(box):
    seen = look([box, box, box], [at(0, 0, 0), at(5, 0, 0), at(5, 10, 0)])
    assert seen.area_m2 == pytest.approx(12.0, rel=1e-9)
    assert seen.own_m2 == pytest.approx([6.0, 6.0, 6.0], rel=1e-9)
    assert seen.shared_m2 == pytest.approx([3.0, 3.0, 6.0], rel=1e-9)
    assert seen.centroid_m == pytest.approx([0.0, 5.0, 0.0], abs=1e-9)


def test_a_strip_that_two_share_falls_half_to_each(box):
    """Shifted by half its width: a third of what both cover is behind the other."""
    seen = look([box, box], [at(0, 0, 0), at(5, 1.0, 0)])
    assert seen.area_m2 == pytest.approx(9.0, rel=1e-9)
    assert seen.shared_m2 == pytest.approx([4.5, 4.5], rel=1e-9)
    # 3 m² alone about -.5, 3 m² shared about .5: (3 · -.5 + 1.5 · .5) / 4.5.
    assert seen.shared_centroid_m[:, 1] == pytest.approx([-1 / 6, 7 / 6], abs=1e-9)


def test_shares_sum_to_the_whole_in_area_and_first_moment():
    rng = np.random.default_rng(5)
    balls = [surface_of(trimesh.creation.icosphere(3, radius)) for radius in rng.uniform(0.1, 0.6, 12)]
    X = [at(*rng.normal(size=3)) for _ in balls]
    seen = look(balls, X, np.array([0.3, -0.8, 0.5]))
    assert seen.shared_m2.sum() == pytest.approx(seen.area_m2, rel=1e-12)
    assert seen.shared_m2 @ seen.shared_centroid_m == pytest.approx(seen.area_m2 * seen.centroid_m, abs=1e-12)
    assert (seen.shared_m2 <= seen.own_m2 * 1.001).all()
    assert seen.own_m2.max() < seen.area_m2 < seen.own_m2.sum()


def test_seen_from_behind_it_covers_the_same():
    rng = np.random.default_rng(6)
    balls = [surface_of(trimesh.creation.icosphere(2, radius)) for radius in (0.5, 0.2, 0.3)]
    X = [at(*rng.normal(size=3)) for _ in balls]
    there, back = (look(balls, X, sign * np.array([0.3, 0.8, 0.1])) for sign in (1, -1))
    assert back.area_m2 == pytest.approx(there.area_m2, rel=1e-9)
    assert back.centroid_m == pytest.approx(there.centroid_m, abs=1e-9)
    assert back.shared_m2 == pytest.approx(there.shared_m2, rel=1e-9)


def test_turned_with_the_view_nothing_changes():
    rng = np.random.default_rng(7)
    mesh = trimesh.creation.torus(1.0, 0.3)
    turn = trimesh.transformations.random_rotation_matrix(rng.random(3))
    view = rng.normal(size=3)
    plain = look([surface_of(mesh)], [AT_HOME], view, 4096)
    turned = look([surface_of(mesh)], [turn], turn[:3, :3] @ view, 4096)
    assert turned.area_m2 == pytest.approx(plain.area_m2, rel=2e-4)
    assert turned.centroid_m == pytest.approx(turn[:3, :3] @ plain.centroid_m, abs=2e-4)


def test_holes_stay_open_and_small_elements_keep_their_figures():
    """A ring with a tiny ball in the middle of its hole, and the same ball in front of the ring.

    Eight of the whole's rows cross the ball: of that third of a permille they miss a few percent.
    """
    ring = surface_of(trimesh.creation.torus(1.0, 0.2, major_sections=64, minor_sections=32))
    ball = surface_of(trimesh.creation.icosphere(3, 0.01))
    ring_alone = look([ring], [AT_HOME], np.array([0, 0, 1.0])).area_m2
    for place, more in (((0, 0, 0), 1), ((1.0, 0, 3), 0)):
        seen = look([ring, ball], [AT_HOME, at(*place)], np.array([0, 0, 1.0]))
        assert seen.area_m2 - ring_alone == pytest.approx(more * seen.own_m2[1], abs=1e-5)
    assert seen.own_m2[1] == pytest.approx(np.pi * 0.01**2, rel=0.01)


@pytest.mark.parametrize("change", ["wound inwards", "wound unevenly", "a lid missing", "every face twice"])
def test_it_needs_neither_closed_nor_evenly_wound_surfaces(box, change):
    faces = {
        "wound inwards": box.faces[:, ::-1],
        "wound unevenly": np.concatenate([box.faces[:5, ::-1], box.faces[5:]]),
        "a lid missing": box.faces[~(box.vertices[box.faces][..., 0] < -0.4).all(axis=1)],
        "every face twice": np.concatenate([box.faces, box.faces]),
    }[change]
    assert len(faces) == {"a lid missing": 10, "every face twice": 24}.get(change, 12)
    seen = look([Surface(box.vertices, faces)], [AT_HOME], np.array([1.0, 0.3, -0.4]))
    whole = look([box], [AT_HOME], np.array([1.0, 0.3, -0.4]))
    assert seen.area_m2 == pytest.approx(whole.area_m2, rel=1e-9)
    assert seen.centroid_m == pytest.approx(whole.centroid_m, abs=1e-9)


def test_a_single_sheet_is_seen_from_both_sides():
    sheet = Surface(np.array([[0, 0, 0], [0, 1, 0], [0, 0, 1.0]]), np.array([[0, 1, 2]]))
    for direction in (ALONG_X, -ALONG_X):
        assert look([sheet], [AT_HOME], direction).area_m2 == pytest.approx(0.5, rel=1e-6)
    edgewise = look([sheet], [AT_HOME], np.array([0, 1.0, 0]))
    assert edgewise.area_m2 == 0
    assert (edgewise.own_m2 == 0).all()


def test_a_direction_without_length_is_refused(box):
    with pytest.raises(ValueError, match="no length"):
        look([box], [AT_HOME], np.zeros(3))


def test_nothing_covers_nothing():
    seen = look([], np.zeros((0, 4, 4)))
    assert seen.area_m2 == 0
    assert seen.own_m2.shape == (0,)
