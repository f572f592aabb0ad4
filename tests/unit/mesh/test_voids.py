"""The metal of hollow castings against closed forms: the solid less its void.

Closed forms: the body less the parallel body inside it, both by the formulas of engineering handbooks (from memory,
evaluated here). Facets are so fine that what they lose is below a tenth of what is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from core_calcs.mesh.boundary import close_holes
from core_calcs.mesh.mass_properties import MassProperties, join_properties, measure_polyhedron
from core_calcs.mesh.solid import Void
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.mesh.voids import measure_void, measure_with_leaves

WALL = 0.006


@dataclass(frozen=True)
class Body:
    """A mesh about its own axes, its size, and its smooth shape less a layer of some thickness."""

    mesh: Callable[[], trimesh.Trimesh]
    size_m: float
    shrink: Callable[[float], MassProperties]


def sphere(t: float) -> MassProperties:
    r = 0.25 - t
    volume = 4 / 3 * np.pi * r**3
    return MassProperties(volume, np.zeros(3), 0.4 * volume * r**2 * np.eye(3))


def box(t: float) -> MassProperties:
    a, b, c = np.array([0.4, 0.3, 0.2]) - 2 * t
    return MassProperties(
        a * b * c, np.zeros(3), a * b * c / 12 * np.diag([b * b + c * c, a * a + c * c, a * a + b * b])
    )


def capsule(t: float) -> MassProperties:
    r, length = 0.05 - t, 0.4
    rod, cap = np.pi * r**2 * length, 2 / 3 * np.pi * r**3
    straight = MassProperties(rod, np.zeros(3), rod * np.diag([r**2 / 4 + length**2 / 12] * 2 + [r**2 / 2]))
    across = cap * (2 / 5 - 9 / 64) * r**2
    ends = [
        MassProperties(cap, np.array([0, 0, s * (length / 2 + 3 / 8 * r)]), np.diag([across, across, 0.4 * cap * r**2]))
        for s in (-1, 1)
    ]
    return join_properties([straight, *ends])


def torus(t: float) -> MassProperties:
    R, r = 0.2, 0.06 - t
    volume = 2 * np.pi**2 * R * r**2
    across = volume * (R**2 / 2 + 5 / 8 * r**2)
    return MassProperties(volume, np.zeros(3), np.diag([across, across, volume * (R**2 + 3 / 4 * r**2)]))


def cone(t: float) -> MassProperties:
    """The parallel body is a cone of the same angle about the same inscribed ball."""
    R, h = 0.14, 0.42
    inscribed = R * h / (R + np.hypot(R, h))
    scale = 1 - t / inscribed
    R, h = R * scale, h * scale
    volume = np.pi * R**2 * h / 3
    across = 3 / 20 * volume * (R**2 + h**2 / 4)
    return MassProperties(volume, np.array([0, 0, t + h / 4]), np.diag([across, across, 0.3 * volume * R**2]))


BODIES = {
    "sphere": Body(lambda: trimesh.creation.icosphere(subdivisions=5, radius=0.25), 0.5, sphere),
    "box": Body(lambda: trimesh.creation.box((0.4, 0.3, 0.2)), 0.4, box),
    "capsule": Body(lambda: trimesh.creation.capsule(height=0.4, radius=0.05, count=(128, 128)), 0.5, capsule),
    "torus": Body(lambda: trimesh.creation.torus(0.2, 0.06, major_sections=160, minor_sections=96), 0.52, torus),
    "cone": Body(lambda: trimesh.creation.cone(0.14, 0.42, sections=256), 0.42, cone),
}
ODD = Rotation.from_rotvec([0.3, 0.5, -0.7]).as_matrix()
SHIFT = np.array([3.0, -2.0, 1.0])


def as_surface(mesh: trimesh.Trimesh, R: np.ndarray = ODD, shift: np.ndarray = SHIFT) -> Surface:
    """Turned and moved, so that nothing lies along the octree's axes."""
    return Surface(np.array(mesh.vertices, float) @ R.T + shift, np.array(mesh.faces, np.int64))


@cache
def measure_whole(name: str) -> tuple[Surface, Void]:
    """A body's surface and its void, measured once for all tests."""
    surface = as_surface(BODIES[name].mesh())
    return surface, measure_void(surface, WALL)


def take_away(surface: Surface, void: Void) -> MassProperties:
    solid = measure_polyhedron(close_holes(surface)[0])
    return join_properties([solid, MassProperties(-void.volume_m3, void.centre_m, -void.inertia_m5)])


def expect_metal(body: Body, wall_m: float) -> MassProperties:
    inner = body.shrink(wall_m)
    return join_properties([body.shrink(0.0), MassProperties(-inner.volume_m3, inner.centre_m, -inner.inertia_m5)])


@pytest.mark.parametrize("name", BODIES)
def test_hollow_bodies(name: str) -> None:
    body = BODIES[name]
    found, expected = take_away(*measure_whole(name)), expect_metal(body, WALL)
    assert found.volume_m3 == pytest.approx(expected.volume_m3, rel=3e-3)
    assert found.centre_m == pytest.approx(ODD @ expected.centre_m + SHIFT, abs=1e-3 * body.size_m)
    turned = ODD @ expected.inertia_m5 @ ODD.T
    assert found.inertia_m5 == pytest.approx(turned, abs=3e-3 * np.trace(turned))


@pytest.mark.parametrize("name", BODIES)
def test_skin_is_what_the_volume_loses(name: str) -> None:
    """Finite differences of the closed form: dV/dt = -A, and the first moment loses A times the skin's centre."""
    body, step = BODIES[name], 1e-5
    void = measure_whole(name)[1]
    thin, thick = body.shrink(WALL - step), body.shrink(WALL + step)
    area = (thin.volume_m3 - thick.volume_m3) / (2 * step)
    moment = (thin.volume_m3 * thin.centre_m - thick.volume_m3 * thick.centre_m) / (2 * step)
    assert void.skin_area_m2 == pytest.approx(area, rel=0.01)
    assert void.skin_centre_m == pytest.approx(ODD @ (moment / area) + SHIFT, abs=5e-3 * body.size_m)


def test_smaller_leaves_come_nearer() -> None:
    body = BODIES["box"]
    surface = as_surface(body.mesh())
    exact = body.shrink(WALL).volume_m3
    voids = [measure_with_leaves(surface, WALL, leaf) for leaf in (1.0, 0.5, 0.25)]
    assert voids[-1].volume_m3 == pytest.approx(exact, rel=3e-4)
    assert all(b.volume_error_m3 < a.volume_error_m3 for a, b in pairwise(voids))
    assert all(abs(void.volume_m3 - exact) < max(void.volume_error_m3, 2e-4 * exact) for void in voids)


def make_blade(walls: float) -> trimesh.Trimesh:
    return trimesh.creation.box((0.3, 0.1, walls * WALL))


def test_thin_parts_stay_solid() -> None:
    """A ball beside a blade: the void is that of the ball alone, and a blade alone has none."""
    ball = trimesh.creation.icosphere(subdivisions=4, radius=0.05)
    both = trimesh.util.concatenate([ball, make_blade(1.4).apply_translation([0.25, 0, 0])])
    alone, found = measure_void(as_surface(ball), WALL), measure_void(as_surface(both), WALL)
    assert found.volume_m3 == pytest.approx(alone.volume_m3, rel=1e-3)
    assert found.centre_m == pytest.approx(alone.centre_m, abs=1e-4)
    assert measure_void(as_surface(make_blade(1.4)), WALL).volume_m3 == 0.0


@pytest.mark.parametrize("walls", [1.6, 1.8, 1.9, 1.98, 2.02, 2.2, 2.6, 3.4])
def test_blades_of_about_two_walls(walls: float) -> None:
    """The worst case: nearest points jump from one face to the other in the middle of the leaves that matter."""
    void = measure_void(as_surface(make_blade(walls)), WALL)
    exact = max((0.3 - 2 * WALL) * (0.1 - 2 * WALL) * (walls - 2) * WALL, 0.0)
    solid = 0.3 * 0.1 * walls * WALL
    assert solid - void.volume_m3 == pytest.approx(solid - exact, rel=1e-2)


def test_inside_out_is_the_same() -> None:
    surface, void = measure_whole("cone")
    turned = Surface(surface.vertices, surface.faces[:, ::-1].copy())
    assert measure_void(turned, WALL).volume_m3 == pytest.approx(void.volume_m3, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "seed"), [("sphere", 0), ("box", 1), ("capsule", 2), ("cone", 3), ("torus", 4), ("torus", 5)]
)
def test_scattered_holes(name: str, seed: int) -> None:
    """One triangle in a hundred is missing, here and there: the metal is the same within 0.2 %."""
    surface = cover_evenly(name)
    rng = np.random.default_rng(seed)
    kept = np.sort(rng.choice(len(surface.faces), int(0.99 * len(surface.faces)), replace=False))
    scan = Surface(surface.vertices, surface.faces[kept])
    whole = take_away(*measure_whole(name))
    found = take_away(scan, measure_void(scan, WALL))
    assert found.volume_m3 == pytest.approx(whole.volume_m3, rel=2e-3)


def cover_evenly(name: str) -> Surface:
    """A body's surface in triangles so small that some may be missing."""
    mesh = BODIES[name].mesh()
    return as_surface(mesh if len(mesh.faces) > 2000 else mesh.subdivide_to_size(0.02))


@pytest.mark.parametrize("share", [0.005, 0.03, 0.1])
@pytest.mark.parametrize("name", BODIES)
def test_patches_cut_out_stay_inside_the_band(name: str, share: float) -> None:
    """A patch of that share of the triangles is missing: the closed form's metal is inside the band that is stated."""
    body, surface = BODIES[name], cover_evenly(name)
    middles = surface.vertices[surface.faces].mean(axis=1)
    expected = expect_metal(body, WALL).volume_m3
    seat = middles[np.random.default_rng(7).integers(len(middles))]
    away = np.linalg.norm(middles - seat, axis=1)
    gone = away <= np.quantile(away, share)
    scan = Surface(surface.vertices, surface.faces[~gone])
    lost_m2 = trimesh.triangles.area(surface.vertices[surface.faces[gone]]).sum()
    solid, void = survey_body(scan)[1], measure_void(scan, WALL)
    assert "open" in solid.states
    band = min(void.holes_error_m3, solid.volume_error_m3) + void.volume_error_m3
    assert abs(solid.volume_m3 - void.volume_m3 - expected) <= band + 3e-3 * expected
    # The band says something, but where slivers leave a ragged rim: fans over that are far larger than the hole.
    assert name == "cone" or band < 0.01 * expected + 4 * lost_m2 * WALL


def test_nothing_and_very_small() -> None:
    nothing = Surface(np.empty((0, 3)), np.empty((0, 3), np.int64))
    assert measure_void(nothing, WALL).volume_m3 == 0.0
    assert measure_void(as_surface(trimesh.creation.box((0.001,) * 3)), WALL).volume_m3 == 0.0


def test_a_void_smaller_than_a_leaf() -> None:
    """A ball hardly thicker than two walls: its void is small, and never below zero."""
    ball = as_surface(trimesh.creation.icosphere(subdivisions=5, radius=1.2 * WALL))
    void = measure_void(ball, WALL)
    solid = measure_polyhedron(ball).volume_m3
    assert 0.0 < void.volume_m3 < 0.01 * solid
    assert np.linalg.eigvalsh(void.inertia_m5).min() >= 0.0
