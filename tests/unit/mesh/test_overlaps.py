"""What bodies have in common, against closed forms: the bound is not below it, and not far above."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from core_calcs.mesh.bodies import split_bodies
from core_calcs.mesh.overlaps import bound_overlap
from core_calcs.mesh.surface import Surface

ODD = Rotation.from_rotvec([0.3, 0.5, -0.7]).as_matrix()


def make_surface(mesh: trimesh.Trimesh, at: tuple[float, float, float] = (0, 0, 0)) -> Surface:
    """Moved, then turned, so that nothing lies along the rays."""
    return Surface((np.array(mesh.vertices, float) + at) @ ODD.T, np.array(mesh.faces, np.int64))


def make_ball(at: float, radius: float = 1.0) -> Surface:
    return make_surface(trimesh.creation.icosphere(subdivisions=5, radius=radius), (at, 0, 0))


@pytest.mark.parametrize("apart", [0.3, 1.0, 1.6, 1.9])
def test_lens_of_two_balls(apart: float) -> None:
    """π (4 r + d)(2 r - d)² / 12, a textbook's closed form (from memory); facets lose 0.1 % of a ball."""
    lens = np.pi * (4 + apart) * (2 - apart) ** 2 / 12
    assert bound_overlap([make_ball(0), make_ball(apart)]) == pytest.approx(lens, rel=0.02, abs=5e-4)


def test_apart_nothing_is_in_common_though_their_boxes_are() -> None:
    """Balls at a diagonal: their bounding boxes share a fiftieth of a ball."""
    ball = trimesh.creation.icosphere(subdivisions=4)
    plain = [Surface(np.array(ball.vertices) + at, np.array(ball.faces, np.int64)) for at in (0.0, 1.3)]
    assert bound_overlap(plain) == 0.0
    assert bound_overlap([make_ball(0), make_ball(5)]) == 0.0


def test_a_body_within_another_is_counted_once_too_often() -> None:
    small = 4 / 3 * np.pi * 0.2**3
    assert bound_overlap([make_ball(0), make_ball(0.3, 0.2)]) == pytest.approx(small, rel=0.02)


def test_three_boxes_count_twice_what_is_in_all_of_them() -> None:
    """Boxes a unit long, each moved by a fifth: .8 in the first two, .8 in the last two, .6 in all: 2 × .6 + 2 × .2."""
    boxes = [make_surface(trimesh.creation.box((1, 0.5, 0.4)), (x, 0, 0)) for x in (0, 0.2, 0.4)]
    assert bound_overlap(boxes) == pytest.approx(1.6 * 0.2, rel=0.02)


def test_what_an_open_body_shares_is_found_behind_its_fans() -> None:
    whole = make_ball(0)
    open_one = Surface(whole.vertices, whole.faces[whole.vertices[whole.faces].mean(axis=1) @ ODD[:, 0] > -0.9])
    lens = np.pi * 5 / 12
    assert bound_overlap([open_one, make_ball(1.0)]) == pytest.approx(lens, rel=0.02)


@pytest.mark.dog
def test_the_dog_has_no_wide_uncertainty(dog_folder) -> None:
    """By bounding boxes the rib cage's 74 bodies could share 88 % of themselves, skull and jaw 8 %."""
    from core_calcs.mesh.element_surface import read_bodies
    from core_calcs.mesh.survey import join_pieces, survey_piece

    for file, share in (("BONERibcage.stl", 0.002), ("BONEMergedSkull.stl", 0.02), ("BONEJaw.stl", 0.002)):
        _, solid = join_pieces([survey_piece(body) for body in read_bodies(dog_folder, file, 1.0)])
        assert solid.volume_error_m3 <= share * solid.volume_m3, file


def test_bodies_of_one_surface_are_told_apart_first() -> None:
    both = trimesh.util.concatenate([trimesh.creation.box((1, 1, 1)), trimesh.creation.box((1, 1, 1))])
    both.vertices[8:] += [0.5, 0.1, 0.2]
    bodies = split_bodies(Surface(np.array(both.vertices) @ ODD.T, np.array(both.faces, np.int64)))
    assert len(bodies) == 2
    assert bound_overlap(bodies) == pytest.approx(0.5 * 0.9 * 0.8, rel=0.02)
