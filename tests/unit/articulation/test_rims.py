"""The rim of a flat facet, on shapes whose facet is known: a disc raised on a slab, and a slab without any."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.fine_rims import sharpen_rim
from core_calcs.articulation.rims import bound_patch
from core_calcs.mesh.samples import Samples, sample_surface
from core_calcs.mesh.surface import Surface


def make_hill(slope_deg: float, radius: float = 0.15) -> Surface:
    """A square sheet, 1.2 across and 1/96 a cell, that is flat within a radius and slopes down all round beyond it."""
    step = 1 / 80
    x, y = np.meshgrid(np.arange(-48, 49) * step, np.arange(-48, 49) * step, indexing="ij")
    z = -np.tan(np.radians(slope_deg)) * np.maximum(np.hypot(x, y) - radius, 0)
    corner = np.arange(97 * 97).reshape(97, 97)
    a, b, c, d = corner[:-1, :-1].ravel(), corner[1:, :-1].ravel(), corner[1:, 1:].ravel(), corner[:-1, 1:].ravel()
    faces = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return Surface(np.column_stack([x.ravel(), y.ravel(), z.ravel()]), faces)


def sample_hill(slope_deg: float, roughness: float = 0.0) -> Samples:
    surface = make_hill(slope_deg)
    lift = np.random.default_rng(3).uniform(-roughness, roughness, len(surface.vertices))
    moved = surface.vertices + np.array([0.0, 0.0, 1.0]) * lift[:, None]
    return sample_surface(Surface(moved, surface.faces), 1 / 40)


def core_about(samples: Samples, x: float, radius: float) -> np.ndarray:
    return np.flatnonzero(np.hypot(samples.points[:, 0] - x, samples.points[:, 1]) < radius)


@pytest.mark.parametrize("slope_deg", [20, 35, 60])
@pytest.mark.parametrize("off", [0.0, 0.05])
def test_a_disc_is_found_out_to_its_rim(slope_deg, off):
    """Whether the core lies in its middle or to one side and over the rim. Area of the disc: pi .15² = .0707."""
    samples = sample_hill(slope_deg)
    whole, openness, _ = bound_patch(samples, core_about(samples, off, 0.11), 1.0)
    assert np.linalg.norm(samples.points[whole, :2].mean(axis=0)) < 0.015
    assert len(whole) * samples.area_m2 == pytest.approx(np.pi * 0.15**2, rel=0.15)
    assert openness < 0.4


@pytest.mark.parametrize("slope_deg", [35, 60])
@pytest.mark.parametrize("off", [0.0, 0.05])
def test_denser_samples_find_its_rim_to_a_fraction_of_their_spacing(slope_deg, off):
    """Twelve directions out from the middle: the outermost samples lie within 1/100 of the disc's rim, 1/40 apart."""
    surface, samples = make_hill(slope_deg), sample_hill(slope_deg)
    whole, _, roughness = bound_patch(samples, core_about(samples, off, 0.11), 1.0)
    fine = sharpen_rim(surface, samples, whole, 1.0, roughness)
    assert len(fine.points) * fine.area_m2 == pytest.approx(np.pi * 0.15**2, rel=0.05)
    away, turned = np.hypot(fine.points[:, 0], fine.points[:, 1]), np.arctan2(fine.points[:, 1], fine.points[:, 0])
    sectors = np.floor((turned + np.pi) / (2 * np.pi) * 12).astype(int) % 12
    assert [away[sectors == k].max() for k in range(12)] == pytest.approx([0.15] * 12, abs=0.01)


def test_a_slab_has_no_rim():
    samples = sample_hill(0.0)
    whole, openness, _ = bound_patch(samples, core_about(samples, 0.0, 0.11), 1.0)
    assert openness > 0.9
    assert len(whole)


def test_a_rim_that_is_a_crease_half_way_round_is_closed_by_the_shortest_way():
    """Half of the sheet flat, the other sloping: the flat side is bounded by the reach alone, the crease is kept to."""
    surface = make_hill(0.0)
    bent = surface.vertices.copy()
    bent[:, 2] -= np.tan(np.radians(35)) * np.maximum(bent[:, 0], 0)
    samples = sample_surface(Surface(bent, surface.faces), 1 / 40)
    whole, openness, _ = bound_patch(samples, core_about(samples, -0.1, 0.09), 1.0)
    assert samples.points[whole, 0].max() < 0.03
    assert 0.4 < openness < 0.95


def test_a_rough_disc_is_found_as_well():
    """Heights scattered by ±.002 on a grid of .0125: the normals scatter by about 8°."""
    samples = sample_hill(35, 0.002)
    whole, openness, _ = bound_patch(samples, core_about(samples, 0.03, 0.11), 1.0)
    assert np.linalg.norm(samples.points[whole, :2].mean(axis=0)) < 0.02
    assert len(whole) * samples.area_m2 == pytest.approx(np.pi * 0.15**2, rel=0.2)
    assert openness < 0.4


def test_the_rim_moves_with_the_shape_and_scales_with_it():
    samples = sample_hill(35)
    core = core_about(samples, 0.02, 0.1)
    turn = np.linalg.qr(np.random.default_rng(1).normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    moved = Samples(
        7 * samples.points @ turn.T + [3, -2, 5], samples.normals @ turn.T, samples.triangles, 49 * samples.area_m2
    )
    here, there = bound_patch(samples, core, 1.0), bound_patch(moved, core, 7.0)
    assert len(np.setxor1d(here[0], there[0])) <= 0.02 * len(here[0])
    assert there[1] == pytest.approx(here[1], abs=0.02)
