"""Mass properties of solids against closed forms, and of meshes against what facets are known to lose.

Sources. Bodies: the usual closed forms of engineering handbooks (from memory, evaluated in float64), all of density
8800 kg/m3. Tetrahedron and the translation of products: B. Mirtich, "Fast and Accurate Computation of Polyhedral Mass
Properties", J. Graphics Tools 1(2), 1996, and its erratum "corrected sign error in translation of inertia product
terms" (people.eecs.berkeley.edu/~jfc/mirtich). Peer: trimesh.

A faceted body is never compared with the smooth one directly: either with the exact polyhedron, or extrapolated from
two finenesses, whose error falls with the square of the facets' size.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.element_surface import read_element
from core_calcs.mesh.mass_properties import MassProperties, join_properties, measure_polyhedron
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.mesh.voids import measure_void

RHO = 8800.0
HANDBOOK = "closed form, engineering handbooks"
MIRTICH = "Mirtich, J. Graphics Tools 1(2), 1996"
HUMAN = Path(os.environ.get("HUMAN_FOLDER", Path(__file__).parents[2] / ".cache" / "human"))


def as_surface(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64))


def revolve(profile: list[tuple[float, float]], sections: int) -> Surface:
    """The body that a polygon of (radius, height), seen anticlockwise, sweeps round z."""
    return as_surface(trimesh.creation.revolve(np.array(profile, float), sections=sections))


def extrapolate(make: Callable[[int], Surface]) -> MassProperties:
    """Richardson's extrapolation of two finenesses: errors of second order cancel."""
    coarse, fine = measure_polyhedron(make(1)), measure_polyhedron(make(2))
    return MassProperties(
        (4 * fine.volume_m3 - coarse.volume_m3) / 3,
        (4 * fine.centre_m - coarse.centre_m) / 3,
        (4 * fine.inertia_m5 - coarse.inertia_m5) / 3,
    )


def test_box(check_value) -> None:
    found = measure_polyhedron(as_surface(trimesh.creation.box(extents=(0.4, 0.3, 0.2))))
    check_value("box, mass [kg]", HANDBOOK, "D", 211.2, RHO * found.volume_m3, rel=1e-9)
    inertia = RHO * np.diag(found.inertia_m5)
    check_value("box, inertia [kg m2]", HANDBOOK, "D", (2.288, 3.520, 4.400), inertia, rel=1e-9)


def test_box_shell(check_value) -> None:
    """As a casting is scanned: outer skin and cavity in one file."""
    outer, inner = trimesh.creation.box(extents=(0.4, 0.3, 0.2)), trimesh.creation.box(extents=(0.388, 0.288, 0.188))
    inner.invert()
    _, found = survey_body(as_surface(trimesh.util.concatenate([outer, inner])))
    check_value("box shell of 6 mm, mass [kg]", HANDBOOK, "D", 26.3307264, RHO * found.volume_m3, rel=1e-9)
    expected = (0.465681947034, 0.656251705754, 0.802936920474)
    check_value("box shell, inertia [kg m2]", HANDBOOK, "D", expected, RHO * np.diag(found.inertia_m5), rel=1e-9)


def cast_hollow(surface: Surface, wall_m: float) -> MassProperties:
    """As a foundry casts it: the outer skin alone is scanned, what is deeper than the wall is void."""
    solid, void = measure_polyhedron(surface), measure_void(surface, wall_m)
    return join_properties([solid, MassProperties(-void.volume_m3, void.centre_m, -void.inertia_m5)])


def test_hollow_castings(check_value) -> None:
    """Walls of 6 mm; the ball's 81 920 facets lose 0.01 %."""
    box = cast_hollow(as_surface(trimesh.creation.box(extents=(0.4, 0.3, 0.2))), 0.006)
    check_value("hollow box cast with 6 mm, mass [kg]", HANDBOOK, "D", 26.3307264, RHO * box.volume_m3, rel=3e-3)
    expected = (0.465681947034, 0.656251705754, 0.802936920474)
    check_value("hollow box, inertia [kg m2]", HANDBOOK, "D", expected, RHO * np.diag(box.inertia_m5), rel=3e-3)
    ball = cast_hollow(as_surface(trimesh.creation.icosphere(subdivisions=6, radius=0.25)), 0.006)
    check_value("hollow ball cast with 6 mm, mass [kg]", HANDBOOK, "D", 40.4817285271, RHO * ball.volume_m3, rel=3e-3)
    inertia = RHO * np.diag(ball.inertia_m5)
    check_value("hollow ball, inertia [kg m2]", HANDBOOK, "D", (1.64690465502,) * 3, inertia, rel=3e-3)


def test_tetrahedron(check_value) -> None:
    corners = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)], float)
    faces = np.array([(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)])
    found = measure_polyhedron(Surface(corners, faces))
    check_value("unit tetrahedron, volume", MIRTICH, "D+mesh", 1 / 6, found.volume_m3, rel=1e-12)
    check_value("unit tetrahedron, centre", MIRTICH, "D+mesh", (0.25, 0.25, 0.25), found.centre_m, rel=1e-12)
    diagonal, off = np.diag(found.inertia_m5), found.inertia_m5[(0, 0, 1), (1, 2, 2)]
    check_value("unit tetrahedron, inertia about the centre", MIRTICH, "D+mesh", (1 / 80,) * 3, diagonal, rel=1e-12)
    check_value("unit tetrahedron, products -∫xy", MIRTICH, "D+mesh", (1 / 480,) * 3, off, rel=1e-11)


def test_translation_of_products(check_value) -> None:
    """The erratum's sign: products of inertia moved from the centre to the origin of the unit tetrahedron."""
    corners = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)], float)
    found = measure_polyhedron(Surface(corners, np.array([(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)])))
    c = found.centre_m
    moved = found.inertia_m5 + found.volume_m3 * (c @ c * np.eye(3) - np.outer(c, c))
    source = f"{MIRTICH}, erratum"
    check_value("unit tetrahedron, I about the origin", source, "D+mesh", (1 / 30,) * 3, np.diag(moved), rel=1e-12)
    check_value("unit tetrahedron, ∫xy about the origin", source, "D+mesh", 1 / 120, -moved[0, 1], rel=1e-12)
    for shift in ((3.0, -2.0, 5.0), (-1.0, 4.0, 0.5)):
        there = measure_polyhedron(Surface(corners + shift, np.array([(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)])))
        got = there.inertia_m5[0, 1]
        check_value(f"unit tetrahedron moved by {shift}, product", source, "D+mesh", 1 / 480, got, rel=1e-9)


SPHERE_BIAS = (
    (-12.65, -20.12),
    (-3.384, -5.571),
    (-0.861, -1.430),
    (-0.2161, -0.3599),
    (-0.0541, -0.0901),
    (-0.0135, -0.0225),
)


@pytest.mark.parametrize(("level", "bias"), list(enumerate(SPHERE_BIAS, start=1)))
def test_facets_of_a_sphere(check_value, level: int, bias: tuple[float, float]) -> None:
    """What an icosphere of 20·4^n triangles lacks of the ball [%]."""
    found = measure_polyhedron(as_surface(trimesh.creation.icosphere(subdivisions=level, radius=0.25)))
    true_volume = 4 / 3 * np.pi * 0.25**3
    true_inertia = 2 / 5 * true_volume * 0.25**2
    got = 100 * np.array([found.volume_m3 / true_volume - 1, found.inertia_m5[0, 0] / true_inertia - 1])
    digits = 0.006 if level == 1 else 0.0006 if level < 4 else 0.00006
    name = f"icosphere of {20 * 4**level} triangles, volume and inertia against the ball [%]"
    check_value(name, "closed form of the ball", "D+mesh", bias, got, abs=digits)


def test_sphere(check_value) -> None:
    found = extrapolate(lambda fine: as_surface(trimesh.creation.icosphere(subdivisions=4 + fine, radius=0.25)))
    check_value("sphere R .25, mass [kg]", HANDBOOK, "D", 575.958653158, RHO * found.volume_m3, rel=1e-6)
    inertia = RHO * np.diag(found.inertia_m5)
    check_value("sphere R .25, inertia [kg m2]", HANDBOOK, "D", (14.3989663290,) * 3, inertia, rel=1e-6)


def test_ellipsoid(check_value) -> None:
    def make(fine: int) -> Surface:
        ball = as_surface(trimesh.creation.icosphere(subdivisions=4 + fine))
        return Surface(ball.vertices * (0.5, 0.3, 0.2), ball.faces)

    found = extrapolate(make)
    check_value("ellipsoid .5/.3/.2, mass [kg]", HANDBOOK, "D", 1105.84061406, RHO * found.volume_m3, rel=1e-6)
    expected = (28.7518559657, 64.1387556157, 75.1971617563)
    check_value("ellipsoid, inertia [kg m2]", HANDBOOK, "D", expected, RHO * np.diag(found.inertia_m5), rel=1e-6)


def test_hollow_sphere(check_value) -> None:
    def make(fine: int) -> Surface:
        outer = trimesh.creation.icosphere(subdivisions=4 + fine, radius=0.25)
        inner = trimesh.creation.icosphere(subdivisions=4 + fine, radius=0.244)
        inner.invert()
        return as_surface(trimesh.util.concatenate([outer, inner]))

    found = extrapolate(make)
    check_value(
        "hollow sphere R .25, wall 6 mm, mass [kg]", HANDBOOK, "D", 40.4817285271, RHO * found.volume_m3, rel=1e-6
    )
    inertia = RHO * np.diag(found.inertia_m5)
    check_value("hollow sphere, inertia [kg m2]", HANDBOOK, "D", (1.64690465502,) * 3, inertia, rel=1e-6)
    ball = measure_polyhedron(as_surface(trimesh.creation.icosphere(subdivisions=4, radius=0.25)))
    _, shell = survey_body(make(0))
    share = 100 * shell.volume_m3 / ball.volume_m3
    check_value("hollow sphere, share of the solid's mass [%]", HANDBOOK, "D", 7.0286, share, abs=5e-5)


def test_cylinder(check_value) -> None:
    found = extrapolate(lambda fine: revolve([(0, -0.5), (0.1, -0.5), (0.1, 0.5), (0, 0.5)], 256 * fine))
    check_value("cylinder R .1, h 1, mass [kg]", HANDBOOK, "D", 276.460153516, RHO * found.volume_m3, rel=1e-6)
    got = RHO * np.diag(found.inertia_m5)[[0, 2]]
    check_value("cylinder, Ix and Iz [kg m2]", HANDBOOK, "D", (23.7294965101, 1.38230076758), got, rel=1e-6)


def test_cone(check_value) -> None:
    found = extrapolate(lambda fine: revolve([(0, 0), (0.2, 0), (0, 0.6)], 256 * fine))
    check_value("cone R .2, h .6, mass [kg]", HANDBOOK, "D", 221.168122813, RHO * found.volume_m3, rel=1e-6)
    check_value("cone, centre above the base [m]", HANDBOOK, "D", 0.15, found.centre_m[2], rel=1e-6)
    got = RHO * np.diag(found.inertia_m5)[[0, 2]]
    check_value("cone, Ix and Iz [kg m2]", HANDBOOK, "D", (4.31277839485, 2.65401747375), got, rel=1e-6)


def test_hemisphere(check_value) -> None:
    def make(fine: int) -> Surface:
        angles = np.linspace(0, np.pi / 2, 64 * fine + 1)
        arc = [(0.25 * np.cos(a), 0.25 * np.sin(a)) for a in angles[:-1]]
        return revolve([(0, 0), *arc, (0, 0.25)], 256 * fine)

    found = extrapolate(make)
    check_value("hemisphere R .25, mass [kg]", HANDBOOK, "D", 287.979326579, RHO * found.volume_m3, rel=1e-6)
    check_value("hemisphere, centre above the flat [m]", HANDBOOK, "D", 0.09375, found.centre_m[2], rel=1e-6)


def make_torus(major: int, minor: int) -> Surface:
    return as_surface(trimesh.creation.torus(0.5, 0.1, major_sections=major, minor_sections=minor))


def test_torus(check_value) -> None:
    found = extrapolate(lambda fine: make_torus(128 * fine, 64 * fine))
    check_value("torus R .5, r .1, mass [kg]", HANDBOOK, "D", 868.525187296, RHO * found.volume_m3, rel=1e-5)
    got = RHO * np.diag(found.inertia_m5)[[0, 2]]
    check_value("torus, Ix and Iz [kg m2]", HANDBOOK, "D", (113.993930833, 223.645235729), got, rel=1e-5)
    coarse = measure_polyhedron(make_torus(128, 64)).volume_m3
    bias = 100 * (coarse / (2 * np.pi**2 * 0.5 * 0.1**2) - 1)
    check_value("torus mesh of 128 × 64, against the smooth one [%]", "closed form", "D+mesh", -0.2007, bias, abs=6e-5)


def test_composite(check_value) -> None:
    point = np.zeros((3, 3))
    parts = [MassProperties(100, np.array([0.0, 0, 1]), point), MassProperties(50, np.array([2.0, 0, 2]), point)]
    joined = join_properties(parts)
    check_value("composite of 100 and 50 kg, mass [kg]", HANDBOOK, "D", 150, joined.volume_m3, rel=1e-12)
    expected = (0.6666667, 0, 1.3333333)
    check_value("composite, centre [m]", HANDBOOK, "D", expected, joined.centre_m, abs=1e-7)


def test_peer(check_value) -> None:
    """A lumpy body without symmetry, far from the origin, against trimesh."""
    rng = np.random.default_rng(11)
    ball = trimesh.creation.icosphere(subdivisions=5)
    lumps = 1 + 0.3 * np.sin(ball.vertices @ rng.normal(size=(3, 4)) * 3).sum(axis=1) / 4
    vertices = ball.vertices * lumps[:, None] * (0.5, 0.3, 0.2) + (2, -3, 4)
    peer = trimesh.Trimesh(vertices, ball.faces, process=False)
    found = measure_polyhedron(as_surface(peer))
    source = f"trimesh {trimesh.__version__}"
    check_value("lumpy body, volume [m3]", source, "D+mesh", float(peer.volume), found.volume_m3, rel=1e-9)
    check_value("lumpy body, centre [m]", source, "D+mesh", peer.center_mass, found.centre_m, rel=1e-9)
    principal = np.linalg.eigvalsh(peer.moment_inertia)
    got = np.linalg.eigvalsh(found.inertia_m5)
    check_value("lumpy body, principal moments [m5]", source, "D+mesh", principal, got, rel=1e-9)


@pytest.mark.dog
def test_peer_on_bones(check_value, dog_folder) -> None:
    """Single bones of the dog, vertices merged by the peer itself."""
    source = f"trimesh {trimesh.__version__}"
    for bone in ("C_2", "Pelvis", "Femoris_L", "Scapula_R", "Ca_10"):
        peer = trimesh.load_mesh(dog_folder / f"BONE{bone}.stl")
        _, found = survey_body(as_surface(trimesh.load_mesh(dog_folder / f"BONE{bone}.stl", process=False)))
        volume = float(peer.volume)
        check_value(f"dog, {bone}, volume [m3]", source, "D+mesh", volume, found.volume_m3, rel=1e-9)
        check_value(f"dog, {bone}, centre [m]", source, "D+mesh", peer.center_mass, found.centre_m, abs=1e-9)


@pytest.mark.skipif(
    not (HUMAN / "complete").exists(), reason=f"{HUMAN}: the human bones are not there. Run `make human`."
)
@pytest.mark.parametrize(
    ("file", "volume_cm3"), [("3mc", 3.93), ("r_femur", 348.49), ("lumbar3", 37.59), ("2proxph", 2.02)]
)
def test_real_bones(check_value, file, volume_cm3) -> None:
    """Meshes as they come, vertices merged; the peer's volume of the same file in the same run as well."""
    surface = read_element(HUMAN, f"{file}.stl", None, 1.0)
    source = "bones of myo-sim 0.2.4, measured with trimesh 5.2.0"
    got = 1e6 * survey_body(surface)[1].volume_m3
    check_value(f"{file}, volume [cm3]", source, "D+mesh", volume_cm3, got, abs=0.01)
    peer = trimesh.load_mesh(HUMAN / f"{file}.stl")
    check_value(f"{file}, volume beside trimesh's [cm3]", "trimesh", "D+mesh", 1e6 * peer.volume, got, rel=1e-6)
