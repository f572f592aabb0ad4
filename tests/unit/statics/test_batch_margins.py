"""Margins of many poses at once against one by one."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.statics.batch_margins import measure_batch
from core_calcs.statics.polygon import find_outline
from core_calcs.statics.stability import find_axes, measure_margins

FIGURES = ("distance_m", "tip_angle_rad", "energy_J")


def measure_one(points, centre, weight):
    """Least margins and the edge by the scalar code; NaN and -1 without a polygon."""
    ring = find_outline(points[:, :2])
    if len(ring) < 3:
        return [np.nan] * 3, (-1, -1)
    margins = measure_margins(find_axes(points[ring]), centre, weight)
    i = int(margins.distance_m.argmin())
    return [getattr(margins, name).min() for name in FIGURES], (ring[i], ring[(i + 1) % len(ring)])


@pytest.mark.parametrize("count", [1, 2, 3, 4, 9, 40])
def test_batch_is_one_by_one(rng, count):
    poses = 300
    points, stands = rng.normal(size=(poses, count, 3)) * [1, 1, 0.1], rng.random((poses, count)) < 0.8
    centres, weights = rng.normal(size=(poses, 3)) * 0.4 + [0, 0, 1.5], rng.uniform(1, 9, poses)
    found = measure_batch(points, stands, centres, weights)
    for b in range(poses):
        on = np.flatnonzero(stands[b])
        figures, edge = measure_one(points[b, on], centres[b], weights[b])
        got = [getattr(found, name)[b] for name in FIGURES]
        np.testing.assert_allclose(got, figures, rtol=1e-12, atol=1e-12)
        assert tuple(found.edge[b]) == (tuple(on[list(edge)]) if edge[0] >= 0 else edge)


def test_grids_with_duplicates_and_points_in_line(rng):
    """Coarse grids make them the rule; some are lines or single points."""
    points = rng.integers(-2, 3, size=(2000, 7, 3)) * [1, 1, 0] + np.zeros(3)
    points[:300, :, 1] = points[:300, :, 0]
    points[300:350] = points[300:350, :1]
    points[350:700] += rng.normal(size=(350, 7, 3)) * [1e-15, 1e-15, 0]
    centres = rng.normal((0, 0, 3), size=(2000, 3))
    found = measure_batch(points, np.ones((2000, 7), bool), centres, 1.0)
    for b in range(2000):
        figures, _ = measure_one(points[b], centres[b], 1.0)
        np.testing.assert_allclose([getattr(found, name)[b] for name in FIGURES], figures, rtol=1e-9, atol=1e-9)
    assert np.isnan(found.distance_m[:350]).all()


def test_far_from_the_origin_and_of_any_size(rng):
    points, centres = rng.normal(size=(50, 6, 3)), rng.normal(size=(50, 3)) * 0.1 + [0, 0, 4]
    stands = np.ones((50, 6), bool)
    near = measure_batch(points, stands, centres, 1.0)
    far = measure_batch(1e-3 * points + 1e3, stands, 1e-3 * centres + 1e3, 1.0)
    np.testing.assert_allclose(far.distance_m, 1e-3 * near.distance_m, atol=1e-12)
    np.testing.assert_allclose(far.tip_angle_rad, near.tip_angle_rad, atol=1e-9)


def test_nothing_stands():
    found = measure_batch(np.zeros((3, 2, 3)), np.zeros((3, 2), bool), np.zeros((3, 3)), 1.0)
    assert np.isnan(found.distance_m).all()
    assert (found.edge == -1).all()
    assert len(measure_batch(np.zeros((0, 2, 3)), np.zeros((0, 2), bool), np.zeros((0, 3)), 1.0).distance_m) == 0
