"""Outlines and surfaces of facets of known shape."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.facet_surfaces import describe_facet, describe_surface, trace_outline
from core_calcs.mesh.samples import Samples
from tests.made_up_facets import cap, spread, turned


def make_samples(points, normals, area):
    return Samples(points, normals, np.zeros(len(points), np.int64), area / len(points))


def make_disc(count=900, hole=0.0):
    u, v = spread(count)
    radius = np.sqrt(hole**2 + (u + 0.5) * (1 - hole**2))
    points = np.column_stack([radius * np.cos(2 * np.pi * v), radius * np.sin(2 * np.pi * v), 0 * u])
    return make_samples(points, np.tile([0, 0, 1.0], (count, 1)), np.pi * (1 - hole**2))


def area_of(loop):
    return np.cross(loop, np.roll(loop, -1, axis=0)).sum(axis=0) / 2


def test_the_outline_of_a_disc_runs_round_it_counter_clockwise():
    disc = make_disc()
    loop = trace_outline(disc, np.arange(900))
    assert 12 <= len(loop) <= 32
    assert np.linalg.norm(loop, axis=1).min() > 0.9
    assert area_of(loop) == pytest.approx([0, 0, np.pi], abs=0.25)


def test_of_a_ring_the_outline_is_the_outer_rim():
    ring = make_disc(hole=0.5)
    assert np.linalg.norm(trace_outline(ring, np.arange(900)), axis=1).min() > 0.9


def test_the_outline_follows_a_bay():
    disc = make_disc(2000)
    kept = np.flatnonzero(~((disc.points[:, 0] > 0) & (np.abs(disc.points[:, 1]) < 0.3)))
    loop = trace_outline(disc, kept)
    assert area_of(loop)[2] < np.pi - 0.4


def test_points_in_a_row_have_no_outline():
    row = make_samples(np.column_stack([np.arange(20.0), np.zeros((20, 2))]), np.tile([0, 0, 1.0], (20, 1)), 20.0)
    assert trace_outline(row, np.arange(20)) is None
    assert trace_outline(row, np.arange(2)) is None


def test_a_disc_is_a_plane():
    surface = describe_surface(make_disc(), np.arange(900))
    assert (surface.shape, surface.radius_m) == ("plane", None)
    assert surface.residual_m < 1e-9


@pytest.mark.parametrize(("sign", "half"), [(1, 25), (-1, 25), (1, 60), (-1, 60)])
def test_a_cap_is_a_sphere_and_a_hollow_one_has_a_negative_radius(sign, half):
    points, normals = cap(half)
    surface = describe_surface(make_samples(points, sign * normals, 1.0), np.arange(len(points)))
    assert surface.shape == "sphere"
    assert surface.radius_m == pytest.approx(sign, rel=0.02)


@pytest.mark.parametrize(("sign", "arc"), [(1, 50), (-1, 50), (1, 100), (-1, 100)])
def test_a_roller_is_a_cylinder(sign, arc):
    points, normals = turned(lambda h: 1 + 0 * h, lambda h: 0 * h, arc, 1.0)
    surface = describe_surface(make_samples(points, sign * normals, 1.0), np.arange(len(points)))
    assert surface.shape == "cylinder"
    assert surface.radius_m == pytest.approx(sign, rel=0.02)


def test_uneven_flats_stay_planes():
    disc = make_disc()
    uneven = disc.points + np.outer(0.02 * np.sin(37 * np.arange(900.0)), [0, 0, 1])
    surface = describe_surface(make_samples(uneven, disc.normals, np.pi), np.arange(900))
    assert surface.shape == "plane"
    assert surface.residual_m == pytest.approx(0.02 / np.sqrt(2), rel=0.05)


def test_a_facet_tells_all_of_it():
    facet = describe_facet("centrum", "V1", make_disc(), np.arange(900), 0.1, "faces its partner", "ambiguous")
    assert facet.area_m2 == pytest.approx(np.pi)
    assert facet.normal == pytest.approx([0, 0, 1])
    assert facet.outline_m is not None
    assert facet.surface.shape == "plane"
    assert (facet.how, facet.confidence) == ("faces its partner", "ambiguous")
