"""Pits and fragments: false walls are measured both ways, against closed forms of balls and cylinders."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from core_calcs.mesh.pits import find_open_skin
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.voids import measure_void

WALL, RADIUS = 0.006, 0.08
ODD = Rotation.from_rotvec([0.3, 0.5, -0.7]).as_matrix()
FULL = 4 / 3 * np.pi * (RADIUS - WALL) ** 3
"""Void of the ball without pits."""


def as_surface(*meshes: trimesh.Trimesh) -> Surface:
    mesh = trimesh.util.concatenate(meshes)
    return Surface(np.array(mesh.vertices, float) @ ODD.T, np.array(mesh.faces, np.int64))


def make_pitted_ball(pit_m: float, depth_m: float) -> trimesh.Trimesh:
    """A ball with a bore of that radius from its north pole down."""
    top = np.sqrt(RADIUS**2 - pit_m**2)
    bore = np.linspace(top - depth_m, top, 40)
    angles = np.linspace(np.arcsin(pit_m / RADIUS), np.pi, 120)
    ball = np.stack([RADIUS * np.sin(angles), RADIUS * np.cos(angles)], axis=1)
    profile = np.concatenate([[[0.0, bore[0]]], np.stack([np.full(40, pit_m), bore], axis=1), ball[1:]])
    profile[-1, 0] = 0.0
    mesh = trimesh.creation.revolve(profile[::-1], sections=96)
    assert mesh.is_watertight
    assert mesh.volume > 0
    return mesh


def expect_false_walls(pit_m: float, depth_m: float) -> float:
    """What lies within the wall of the bore and deeper than the wall below the ball: a cylinder with a rounded end."""
    angle = np.linspace(0, np.pi / 2, 2001)
    rounded = np.trapezoid(np.pi * (pit_m + WALL * np.cos(angle)) ** 2 * WALL * np.cos(angle), angle)
    return float(np.pi * (pit_m + WALL) ** 2 * (depth_m - WALL) + rounded)


def test_a_pit_narrower_than_the_wall_is_told_both_ways() -> None:
    """With it the void lacks the bore and a wall around it; passed over it is the ball's."""
    pit, depth = 0.0015, 0.05
    void = measure_void(as_surface(make_pitted_ball(pit, depth)), WALL)
    expected = expect_false_walls(pit, depth)
    assert void.volume_m3 == pytest.approx(FULL - expected, rel=3e-3)
    assert void.pits_m3 == pytest.approx(expected, rel=0.05)


def test_of_a_wide_bore_the_corner_alone_is_passed_over() -> None:
    """A ball of radius r rolls along the bore's bottom edge, so that its wall t is rounder there: in a section by
    (1 - π/4)(r² + 2 r t), all round at about half a wall beyond the bore.
    """
    bore, r = 0.008, WALL / 2
    void = measure_void(as_surface(make_pitted_ball(bore, 0.05)), WALL)
    ring = 2 * np.pi * (bore + WALL / 2) * (1 - np.pi / 4) * (r**2 + 2 * r * WALL)
    assert void.pits_m3 == pytest.approx(ring, rel=0.1)


def test_a_fragment_inside_makes_a_wall_of_its_own() -> None:
    """A crumb of 2 mm in the middle of the ball: a ball of 2 mm and a wall is missing of the void."""
    ball, crumb = trimesh.creation.icosphere(5, RADIUS), trimesh.creation.icosphere(3, 0.002)
    void = measure_void(as_surface(ball, crumb), WALL)
    around = 4 / 3 * np.pi * (WALL + 0.002) ** 3
    assert void.volume_m3 == pytest.approx(FULL - around, rel=3e-3)
    assert void.pits_m3 == pytest.approx(around, rel=0.15)


@pytest.mark.parametrize("inside_out", [False, True])
def test_a_sound_body_has_none_whichever_way_it_is_wound(inside_out: bool) -> None:
    surface = as_surface(trimesh.creation.icosphere(4, RADIUS))
    if inside_out:
        surface = Surface(surface.vertices, surface.faces[:, ::-1].copy())
    assert find_open_skin(surface, WALL / 2) is None
    assert measure_void(surface, WALL).pits_m3 == 0.0


def test_what_a_ball_cannot_touch_is_the_bore() -> None:
    surface = as_surface(make_pitted_ball(0.0015, 0.05))
    skin = find_open_skin(surface, WALL / 2)
    assert skin is not None
    from_axis = np.linalg.norm((surface.vertices @ ODD)[:, :2], axis=1)
    height = (surface.vertices @ ODD)[:, 2]
    assert from_axis[skin.surface.faces].max(axis=1).min() > 0.0014
    assert height[skin.surface.faces].min() == pytest.approx(-RADIUS, rel=1e-3)
    assert len(surface.faces) - len(skin.surface.faces) >= 96 * 2 * 35
