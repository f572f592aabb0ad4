"""Wind on a posed crowd: force of the whole, what falls to each, all round."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core_calcs.actions.wind import blow, measure_wind_areas
from core_calcs.mesh.silhouettes import measure_silhouette, outline_body, place_bodies
from core_calcs.mesh.surface import Surface
from core_calcs.site.actions import Wind


def crowd_of(*boxes):
    """Boxes of (size, centre)."""
    bodies, X = [], []
    for size, centre in boxes:
        mesh = trimesh.creation.box(size)
        bodies.append(outline_body(Surface(np.array(mesh.vertices), np.array(mesh.faces, np.int64))))
        own = np.eye(4)
        own[:3, 3] = centre
        X.append(own)
    return place_bodies(bodies, np.array(X))


@pytest.fixture(scope="module")
def crowd():
    return crowd_of(((1.0, 2.0, 3.0), (0, 0, 1.5)), ((4.0, 0.2, 0.2), (2.5, 0, 3.5)), ((0.5, 0.5, 0.5), (-3, 0.3, 0.4)))


def test_the_whole_takes_pressure_times_silhouette_at_its_centroid(crowd):
    areas = measure_wind_areas(crowd, 36)
    found = blow(areas, Wind(800.0, 1.3))
    for k in range(0, 36, 5):
        seen = measure_silhouette(crowd, areas.directions[k])
        force = found.whole_N[k]
        np.testing.assert_allclose(force, 800 * 1.3 * seen.area_m2 * areas.directions[k], rtol=1e-9, atol=1e-9)
        across = np.eye(3) - np.outer(areas.directions[k], areas.directions[k])
        np.testing.assert_allclose(across @ found.line_m[k], across @ seen.centroid_m, atol=1e-9)


@pytest.mark.parametrize("count", [4, 7, 36])
def test_every_direction_is_measured_whether_even_or_odd(crowd, count):
    areas = measure_wind_areas(crowd, count)
    assert areas.area_m2.shape == (count,)
    assert areas.shared_m2.shape == (count, 3)
    for k in range(count):
        assert areas.area_m2[k] == pytest.approx(measure_silhouette(crowd, areas.directions[k]).area_m2, rel=1e-9)
    np.testing.assert_allclose(areas.shared_m2.sum(axis=1), areas.area_m2)
    assert (areas.unshielded_m2 >= areas.area_m2 * 0.999).all()


def test_a_part_that_nothing_covers_takes_its_wind_in_full(crowd):
    """A bar above a block stands alone, though few rows cross it; behind the block's corner the two share."""
    areas = measure_wind_areas(crowd, 4)
    assert areas.directions[1].tolist() == [0, 1, 0]
    assert areas.shared_m2[1, 1] == pytest.approx(4.0 * 0.2, rel=1e-9)
    lifted = crowd_of(((1.0, 2.0, 3.0), (0, 0, 1.5)), ((4.0, 0.2, 0.2), (2.0, 3, 2.5)))
    shared = measure_wind_areas(lifted, 4).shared_m2[1]
    # Half a metre of the bar stands behind the block: half of that each.
    np.testing.assert_allclose(shared, [3.0 - 0.05, 0.8 - 0.05], rtol=1e-3)


def test_no_pressure_no_force(crowd):
    assert (blow(measure_wind_areas(crowd, 8), Wind(0.0)).forces_N == 0).all()


def test_twice_the_size_takes_four_times_the_force(crowd):
    large = crowd_of(((2.0, 4.0, 6.0), (0, 0, 3.0)), ((8.0, 0.4, 0.4), (5.0, 0, 7.0)), ((1.0, 1, 1), (-6, 0.6, 0.8)))
    small, wide = (blow(measure_wind_areas(own, 12), Wind(500.0)).whole_N for own in (crowd, large))
    np.testing.assert_allclose(wide, 4 * small, rtol=1e-6, atol=1e-6)
