"""Joint frames: every sign is checked by moving a point and looking where it goes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from core_calcs.articulation.column import ColumnAxes, column_axes
from core_calcs.articulation.frames import column_frame, find_ball, find_cut
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import invert, is_rigid, make_transform

HEAD, LEFT, BACK = np.eye(3)
AXES = ColumnAxes(HEAD, LEFT, BACK)
MOVEMENTS = {"flexion": (0.1, 0, 0), "lateral": (0, 0.1, 0), "axial": (0, 0, 0.1)}


@pytest.fixture(scope="module")
def end_plates(shapes):
    head = shapes.prepare("V1", shapes.make_box(shapes.CENTRUM, (0.5, 0, 0)))
    tail = shapes.prepare("V2", shapes.make_box(shapes.CENTRUM, (-0.5, 0, 0)))
    return (
        shapes.pick_patch("centrum", head, lambda p, n: n[:, 0] < -0.9),
        shapes.pick_patch("centrum", tail, lambda p, n: n[:, 0] > 0.9),
    )


def move(frame, movement, point):
    turn = make_transform(joint_rotation(MOVEMENTS[movement], frame.senses), np.zeros(3))
    X = frame.X_WJ @ turn @ invert(frame.X_WJ)
    return X[:3, :3] @ point + X[:3, 3] - point


@pytest.mark.parametrize("child_headward", [True, False])
def test_positive_angles_move_the_child_as_the_conventions_say(end_plates, child_headward):
    headward, tailward = end_plates
    on_parent, on_child = (tailward, headward) if child_headward else (headward, tailward)
    frame = column_frame(on_parent, on_child, AXES, child_headward, 0.7)
    away = HEAD if child_headward else -HEAD
    assert is_rigid(frame.X_WJ)
    assert frame.X_WJ[:3, 1] @ away == pytest.approx(1)
    assert move(frame, "flexion", away) @ BACK < -0.09  # the child's far end goes ventrally
    assert move(frame, "lateral", away) @ LEFT > 0.09  # to the animal's left
    # right-hand rule about the axis away from the parent: `across` is the way that rotation takes the back
    across = np.cross(away, BACK)
    assert move(frame, "axial", BACK) @ across > 0.09


def test_flat_ends_turn_about_the_middle_of_the_disc(end_plates):
    frame = column_frame(end_plates[1], end_plates[0], AXES, True, 0.7)
    assert frame.X_WJ[:3, 3] == pytest.approx([0, 0, 0], abs=0.01)
    assert "disc" in frame.how


def ball_and_cotyle(shapes, arc_deg):
    """A condyle of radius .3 about the origin, as a cap of the given half-angle, and a cotyle of .32 around it."""

    def shell(radius):
        return shapes.from_trimesh(trimesh.creation.icosphere(subdivisions=4, radius=radius))

    within = np.cos(np.radians(arc_deg))
    ball = shapes.prepare("ball", shell(0.3))
    cup_surface = shell(0.32)
    cup = shapes.prepare("cup", type(cup_surface)(cup_surface.vertices, cup_surface.faces[:, ::-1]), size=0.5)
    inwards = replace(cup.samples, normals=-cup.samples.points / 0.32)
    cup = replace(cup, samples=inwards)
    on_ball = shapes.pick_patch("centrum", ball, lambda p, n: p[:, 0] > within * 0.3)
    on_cup = shapes.pick_patch("centrum", cup, lambda p, n: p[:, 0] > within * 0.32)
    return on_ball, on_cup


def test_a_deep_ball_and_its_cotyle_turn_about_the_balls_centre(shapes):
    on_ball, on_cup = ball_and_cotyle(shapes, 60)
    _, ball = find_ball(on_ball, on_cup, 0.5)
    assert ball is not None
    assert ball.centre == pytest.approx([0, 0, 0], abs=2e-3)
    assert ball.radius == pytest.approx(0.3, rel=0.01)
    frame = column_frame(on_ball, on_cup, AXES, True, 0.5)
    assert frame.X_WJ[:3, 3] == pytest.approx([0, 0, 0], abs=2e-3)
    assert "condyle" in frame.how


def test_a_shallow_ball_is_not_believed(shapes):
    on_ball, on_cup = ball_and_cotyle(shapes, 20)
    assert find_ball(on_ball, on_cup, 0.5) is None
    frame = column_frame(on_ball, on_cup, AXES, True, 0.5)
    assert frame.X_WJ[0, 3] > 0.25  # between the two surfaces, not at the sphere's centre


def test_two_convex_ends_are_no_ball_joint(shapes):
    on_ball, _ = ball_and_cotyle(shapes, 60)
    assert find_ball(on_ball, on_ball, 0.5) is None


def test_the_cut_of_a_fixed_joint_is_where_surfaces_come_closest(rng):
    parent = np.column_stack([np.zeros(2000), rng.uniform(-1, 1, (2000, 2))])
    child = np.column_stack([0.2 + (rng.uniform(-1, 1, 2000) - 0.5) ** 2, *rng.uniform(-1, 1, (2, 2000))])
    assert find_cut(parent, child)[0] == pytest.approx(0.1, abs=0.02)


def test_left_is_carried_along_a_bent_column_without_twist():
    angles = np.radians(np.arange(0, 181, 15))
    centres = np.column_stack([np.sin(angles), np.zeros_like(angles), -np.cos(angles)])  # half a turn in the mid-plane
    axes = None
    for headward, tailward in zip(centres[1:], centres[:-1], strict=True):
        axes = column_axes(headward, tailward, axes)
        assert axes.left == pytest.approx([0, 1, 0])
        assert np.cross(axes.head, axes.left) == pytest.approx(axes.back)
    assert axes is not None
    assert axes.head[0] < -0.9  # the column has turned round, left has not


def test_a_column_across_the_animal_is_refused():
    with pytest.raises(SkeletonError):
        column_axes(np.array([0.0, 1, 0]), np.zeros(3))
    with pytest.raises(SkeletonError):
        column_axes(np.zeros(3), np.zeros(3))
    with pytest.raises(SkeletonError, match="towards the world's -x"):
        column_axes(np.array([-1.0, 0, 0.2]), np.zeros(3))


def test_an_upright_column_may_lean_back():
    axes = column_axes(np.array([-0.3, 0, 1.0]), np.zeros(3))
    assert axes.left == pytest.approx([0, 1, 0])
