"""Patches of samples on a flat box face."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.patches import Growth, grow_patch, open_patch, split_patches, trim_to_ellipse
from core_calcs.articulation.spheres import fit_sphere
from core_calcs.mesh.samples import sample_surface


@pytest.fixture(scope="module")
def top(shapes):
    """Samples of a box of 2 × 1, and which lie on its top."""
    samples = sample_surface(shapes.make_box((2.0, 1.0, 0.5)), 0.02)
    return samples, samples.normals[:, 2] > 0.9


def test_pieces_come_apart_largest_first(top):
    samples, on_top = top
    x = samples.points[:, 0]
    pieces = split_patches(samples, np.flatnonzero(on_top & ((x < -0.5) | (x > 0.2))))
    assert len(pieces) == 2
    assert len(pieces[0]) > len(pieces[1])
    assert (samples.points[pieces[0], 0] > 0.2).all()
    assert split_patches(samples, np.array([], np.int64)) == []


def test_opening_cuts_a_bridge_and_forgives_holes(top):
    samples, on_top = top
    x, y, _ = samples.points.T
    bridged = np.flatnonzero(on_top & ((np.abs(x) > 0.3) | (np.abs(y) < 0.02)))
    holed = bridged[np.arange(len(bridged)) % 10 != 0]
    opened = open_patch(samples, holed, 0.06)
    pieces = split_patches(samples, opened)
    assert len(pieces) == 2
    assert len(opened) > 0.9 * (np.abs(x[holed]) > 0.3).sum()


def growth(reach_s):
    return Growth(reach_s, 3, 0.02, np.radians(20), np.radians(55))


def test_growth_ends_at_the_rim(top):
    samples, on_top = top
    core = np.flatnonzero(on_top & (np.abs(samples.points[:, :2]) < (0.9, 0.4)).all(axis=1))
    grown = grow_patch(samples, core, 1.0, growth(0.3))
    assert on_top[grown].all()
    assert len(grown) > 0.97 * on_top.sum()


def test_growth_ends_at_its_reach(top):
    samples, on_top = top
    core = np.flatnonzero(on_top & (np.abs(samples.points[:, 0]) < 0.3))
    grown = grow_patch(samples, core, 1.0, growth(0.1))
    assert np.abs(samples.points[grown, 0]).max() == pytest.approx(0.4, abs=0.03)


def test_trimming_takes_a_spur_and_leaves_an_ellipse(top):
    samples, on_top = top
    x, y, _ = samples.points.T
    ellipse = on_top & ((x / 0.6) ** 2 + (y / 0.35) ** 2 < 1)
    spur = on_top & (x > 0) & (x < 0.95) & (np.abs(y) < 0.05)
    assert len(trim_to_ellipse(samples, np.flatnonzero(ellipse))) == ellipse.sum()
    trimmed = trim_to_ellipse(samples, np.flatnonzero(ellipse | spur))
    assert samples.points[trimmed, 0].max() < 0.7
    assert ellipse[trimmed].sum() >= 0.99 * ellipse.sum()


def test_a_sphere_is_found_again(rng):
    direction = rng.normal(size=(500, 3))
    direction[:, 2] = np.abs(direction[:, 2]) + 1
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    sphere = fit_sphere(np.array([1.0, 2, 3]) + 0.7 * direction, np.array([0, 0, 1.0]))
    assert sphere is not None
    assert sphere.centre == pytest.approx([1, 2, 3])
    assert sphere.radius == pytest.approx(0.7)
    assert sphere.residual < 1e-9
    assert sphere.convex
    assert not fit_sphere(np.array([1.0, 2, 3]) + 0.7 * direction, np.array([0, 0, -1.0])).convex


def test_a_plane_is_no_sphere(rng):
    flat = np.column_stack([rng.uniform(-1, 1, (100, 2)), np.zeros(100)])
    assert fit_sphere(flat, np.array([0, 0, 1.0])) is None
