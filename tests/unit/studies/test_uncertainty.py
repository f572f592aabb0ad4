"""Uncertainties carried to mass, centre, moment and margin, held against a Monte Carlo of closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from core_calcs.build.build import Build, Casting, ElementCasting, Material, Weighing
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.mesh.voids import measure_void
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, Skeleton, build_skeleton
from core_calcs.studies.assess import assess

SIZES = np.array([[0.5, 0.4, 0.3], [0.4, 0.2, 0.2], [0.3, 0.1, 0.1]])
CENTRES = np.array([[0.0, 0.0, 1.0], [0.5, 0.02, 1.1], [-0.4, 0.0, 0.9]])
DENSITY, DENSITY_UNCERTAINTY, WALL, WALL_UNCERTAINTY, SCALE_UNCERTAINTY = 8800.0, 176.0, 0.006, 0.001, 0.01
DATUM = (-0.1, 0.05, 0.0)
FEET = np.array([[0.3, 1.0, 0.0], [0.3, -1.0, 0.0], [-0.5, -1.0, 0.0], [-0.5, 1.0, 0.0]])
BUILD = Build(
    Material("made up", DENSITY, DENSITY_UNCERTAINTY, "made up"),
    Casting("hollow", WALL, WALL_UNCERTAINTY),
    element_castings=(ElementCasting("part 2", Casting()),),
    scale_uncertainty_share=SCALE_UNCERTAINTY,
)


def make_skeleton() -> Skeleton:
    """Two hollow boxes and a solid one, standing on four points of the first."""
    elements, joints = [], []
    for i, (size, centre) in enumerate(zip(SIZES, CENTRES, strict=True)):
        box = trimesh.creation.box(size)
        surface = Surface(np.array(box.vertices, float), np.array(box.faces, np.int64))
        X_WE = np.eye(4)
        X_WE[:3, 3] = centre
        source = Source(f"{i}.stl", None, 1.0, "0" * 64)
        measured = (survey_body(surface)[1], X_WE, (measure_void(surface, WALL),))
        elements.append(Element(f"part {i}", "other", None, "middle", "scanned", source, *measured))
        if i:
            at = np.eye(4)
            at[:3, 3] = centre
            joints.append(Joint("part 0", f"part {i}", "fixed", at, (1, 1, 1), None, (), "none", "made up", None))
    foot = Foot("foot", (Contact("part 0", FEET - CENTRES[0]),))
    return build_skeleton("three", tuple(elements), tuple(joints), (foot,))


def calculate(density: float, wall: float, scale: float) -> tuple[float, float, float, float]:
    """Closed form: mass, height of the centre, horizontal base moment, margin to the edge in front."""
    sizes, centres = SIZES * scale, CENTRES * scale
    inner = sizes - 2 * wall
    metal = sizes.prod(axis=1) - inner.prod(axis=1) * (1, 1, 0)
    mass = density * metal
    centre = mass @ centres / mass.sum()
    moment = GRAVITY * mass.sum() * np.hypot(*(centre[:2] - np.array(DATUM[:2]) * scale))
    return float(mass.sum()), float(centre[2]), float(moment), float(FEET[:, 0].max() * scale - centre[0])


def carry(build: Build) -> np.ndarray:
    found = assess(make_skeleton(), Pose("neutral"), build, Site(datum_m=DATUM))
    uncertainties = found.uncertainties
    return np.array(
        [
            found.mass_uncertainty_kg,
            uncertainties.centre_m[2],
            uncertainties.base_moment_Nm,
            uncertainties.distance_margin_m,
        ]
    )


def sharpen(build: Build, *, density: bool = False, wall: bool = False, scale: bool = False) -> Build:
    """The build without uncertainty but for the sources named."""
    return replace(
        build,
        material=replace(build.material, density_uncertainty_kg_m3=DENSITY_UNCERTAINTY if density else 0.0),
        casting=replace(build.casting, wall_uncertainty_m=WALL_UNCERTAINTY if wall else 0.0),
        scale_uncertainty_share=SCALE_UNCERTAINTY if scale else 0.0,
    )


def test_agrees_with_monte_carlo() -> None:
    """Standard deviations within 5 %: each source's half-width over the root of three, as it is drawn evenly."""
    rng = np.random.default_rng(2024)
    spread = rng.uniform(-1, 1, (20000, 3))
    drawn = np.array(
        [
            calculate(DENSITY + DENSITY_UNCERTAINTY * a, WALL + WALL_UNCERTAINTY * b, 1 + SCALE_UNCERTAINTY * c)
            for a, b, c in spread
        ]
    )
    resolution = carry(sharpen(BUILD))
    parts = [carry(sharpen(BUILD, **{name: True})) - resolution for name in ("density", "wall", "scale")]
    np.testing.assert_allclose(np.sqrt(np.square(parts).sum(axis=0) / 3), drawn.std(axis=0), rtol=0.05)


def test_worst_corner_is_what_is_stated_to_first_order() -> None:
    """All sources at their worst together: the wall uncertain by a sixth adds up to an eighth of second order."""
    rng = np.random.default_rng(7)
    drawn = np.array(
        [
            calculate(DENSITY + DENSITY_UNCERTAINTY * a, WALL + WALL_UNCERTAINTY * b, 1 + SCALE_UNCERTAINTY * c)
            for a, b, c in rng.choice([-1, 1], (64, 3))
        ]
    )
    away = np.abs(drawn - calculate(DENSITY, WALL, 1.0)).max(axis=0)
    bound = carry(BUILD)
    assert (away <= 1.13 * bound).all()
    assert (bound <= 1.05 * away).all()


def test_one_density_for_all_moves_nothing() -> None:
    """It is common to all elements: mass and moment grow, centre and margin stay."""
    only = carry(sharpen(BUILD, density=True)) - carry(sharpen(BUILD))
    mass, _, moment, _ = calculate(DENSITY, WALL, 1.0)
    assert only[0] == pytest.approx(mass * DENSITY_UNCERTAINTY / DENSITY, rel=0.01)
    assert only[2] == pytest.approx(moment * DENSITY_UNCERTAINTY / DENSITY, rel=0.02)
    assert only[[1, 3]] == pytest.approx([0.0, 0.0], abs=1e-12)


def test_a_weighing_leaves_its_own_uncertainty_alone() -> None:
    """All weighed: each uncertainty acts at the centre of its element, by hand."""
    weighings = tuple(Weighing(f"part {i}", mass, 0.5, "") for i, mass in enumerate((30.0, 20.0, 10.0)))
    uncertainties = carry(replace(BUILD, weighings=weighings, scale_uncertainty_share=0.0))
    centre = np.array([30.0, 20.0, 10.0]) @ CENTRES / 60
    assert uncertainties[0] == pytest.approx(1.5)
    assert uncertainties[1] == pytest.approx(0.5 / 60 * np.abs(CENTRES[:, 2] - centre[2]).sum(), rel=1e-3)
    assert uncertainties[3] == pytest.approx(0.5 / 60 * np.abs(CENTRES[:, 0] - centre[0]).sum(), rel=1e-3)


def test_not_known_where_nothing_stands() -> None:
    found = assess(replace(make_skeleton(), feet=()), Pose("neutral"), BUILD, Site())
    assert found.uncertainties.distance_margin_m is None
    assert found.uncertainties.centre_m is not None
