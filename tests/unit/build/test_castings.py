"""How elements are cast: who says so, what is metal, and how uncertain that is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from core_calcs.build.build import Build, Casting, ElementCasting, Material, SeriesCasting, Weighing
from core_calcs.build.castings import bound_metal_error, find_casting, measure_metal
from core_calcs.build.weights import weigh_elements
from core_calcs.mesh.mass_properties import measure_polyhedron
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.mesh.voids import measure_void
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import SkeletonError

MATERIAL = Material("made up", 8000.0, 100.0, "made up")
WALL = 0.006
HOLLOW = Casting("hollow", WALL, 0.001)
SIZE = np.array([0.4, 0.3, 0.2])


def make_element(name: str = "box", scale: float = 1.0, walls: tuple[float, ...] = (WALL,)) -> Element:
    """A box of `SIZE`, its voids measured."""
    box = trimesh.creation.box(SIZE * scale)
    surface = Surface(np.array(box.vertices, float), np.array(box.faces, np.int64))
    voids = tuple(measure_void(surface, wall) for wall in walls)
    source = Source("box.stl", None, 1.0, "0" * 64)
    return Element(name, "ribs", None, "left", "scanned", source, survey_body(surface)[1], np.eye(4), voids)


def make_metal(wall: float = WALL, scale: float = 1.0) -> float:
    """Closed form: the box less the box inside it."""
    return float(np.prod(SIZE * scale) - np.prod(SIZE * scale - 2 * wall))


def test_what_is_said_of_an_element_goes_before_its_series_and_that_before_all() -> None:
    thin, thick = Casting("hollow", 0.004), Casting("hollow", 0.008)
    element = make_element(walls=())
    build = Build(MATERIAL, HOLLOW)
    assert find_casting(build, element) == HOLLOW
    build = replace(build, series_castings=(SeriesCasting("skull", thick), SeriesCasting("ribs", thin)))
    assert find_casting(build, element) == thin
    build = replace(build, element_castings=(ElementCasting("other", HOLLOW), ElementCasting("box", thick)))
    assert find_casting(build, element) == thick


def test_hollow_box_weighs_its_shell() -> None:
    skeleton = build_skeleton("s", (make_element(),), ())
    weights = weigh_elements(skeleton, Build(MATERIAL, HOLLOW))
    assert weights.mass_kg[0] == pytest.approx(8000 * make_metal(), rel=3e-3)
    a, b, c = SIZE
    outer, inner = np.array([b, a, a]) ** 2 + np.array([c, c, b]) ** 2, SIZE - 2 * WALL
    inner_squares = np.array([inner[1], inner[0], inner[0]]) ** 2 + np.array([inner[2], inner[2], inner[1]]) ** 2
    expected = 8000 / 12 * (SIZE.prod() * outer - inner.prod() * inner_squares)
    np.testing.assert_allclose(np.diag(weights.inertia_kg_m2[0]), expected, rtol=3e-3)
    assert not weights.weighed.any()


def test_struts_fill_their_share_of_the_void() -> None:
    element = make_element()
    solid, hollow = measure_metal(element, Casting()), measure_metal(element, HOLLOW)
    half = measure_metal(element, replace(HOLLOW, struts_share=0.5))
    assert half.volume_m3 == pytest.approx((solid.volume_m3 + hollow.volume_m3) / 2)
    np.testing.assert_allclose(half.inertia_m5, (solid.inertia_m5 + hollow.inertia_m5) / 2, atol=1e-9)
    full = measure_metal(element, replace(HOLLOW, struts_share=1.0))
    assert full.volume_m3 == pytest.approx(solid.volume_m3)


def test_uncertainty_of_wall_and_scale() -> None:
    """Closed form by finite differences of the box: a wall 0.1 mm thicker, a scan 0.1 % larger."""
    element = make_element()
    sharp = bound_metal_error(element, replace(HOLLOW, wall_uncertainty_m=0.0), 0.0)
    thicker = bound_metal_error(element, replace(HOLLOW, wall_uncertainty_m=1e-4), 0.0) - sharp
    assert thicker == pytest.approx(make_metal(WALL + 1e-4) - make_metal(), rel=0.02)
    larger = bound_metal_error(element, replace(HOLLOW, wall_uncertainty_m=0.0), 1e-3) - sharp
    assert larger == pytest.approx(make_metal(scale=1.001) - make_metal(), rel=0.02)
    assert bound_metal_error(element, Casting(), 1e-3) == pytest.approx(3e-3 * SIZE.prod())


def test_weighing_goes_before_the_calculation() -> None:
    skeleton = build_skeleton("s", (make_element(),), ())
    free = weigh_elements(skeleton, Build(MATERIAL, HOLLOW))
    weighed = weigh_elements(skeleton, Build(MATERIAL, HOLLOW, weighings=(Weighing("box", 30.0, 0.05, ""),)))
    assert (weighed.mass_kg[0], weighed.uncertainty_kg[0], bool(weighed.weighed[0])) == (30.0, 0.05, True)
    assert weighed.calculated_kg[0] == free.mass_kg[0]
    np.testing.assert_allclose(weighed.centre_m, free.centre_m)
    np.testing.assert_allclose(weighed.inertia_kg_m2, free.inertia_kg_m2 * 30.0 / free.mass_kg[0])


def test_a_void_that_is_not_measured_is_told() -> None:
    skeleton = build_skeleton("s", (make_element(walls=(0.004,)),), ())
    with pytest.raises(SkeletonError, match=r"box: .*wall of 6 mm.*has not been measured"):
        weigh_elements(skeleton, Build(MATERIAL, HOLLOW))
    solid = weigh_elements(skeleton, Build(MATERIAL))
    assert solid.mass_kg[0] == pytest.approx(8000 * SIZE.prod())


def test_a_void_larger_than_the_solid_is_told() -> None:
    element = make_element()
    void = replace(element.voids[0], volume_m3=2 * element.solid.volume_m3)
    skeleton = build_skeleton("s", (replace(element, voids=(void,)),), ())
    with pytest.raises(SkeletonError, match="larger than what its surface encloses"):
        weigh_elements(skeleton, Build(MATERIAL, HOLLOW))


def test_thin_elements_stay_solid() -> None:
    """Twice the wall is more than the least side: nothing is hollow."""
    element = make_element(scale=0.05)
    box = trimesh.creation.box(SIZE * 0.05)
    solid = measure_polyhedron(Surface(np.array(box.vertices, float), np.array(box.faces, np.int64)))
    assert measure_metal(element, HOLLOW).volume_m3 == pytest.approx(solid.volume_m3)
