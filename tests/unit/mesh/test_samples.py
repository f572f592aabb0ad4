"""Samples on surfaces of known area and centroid (closed form)."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from core_calcs.mesh.samples import sample_surface
from core_calcs.mesh.surface import Surface
from core_calcs.spatial.errors import MeshFileError


def test_every_triangle_gets_its_share_of_points(make_box):
    surface = make_box((1.0, 2.0, 3.0))
    samples = sample_surface(surface, 0.02)
    a, b, c = (surface.vertices[surface.faces[:, k]] for k in range(3))
    areas = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    counts = np.bincount(samples.triangles, minlength=len(areas))
    assert np.abs(counts - areas / samples.area_m2).max() <= 1 + 1e-9
    assert samples.area_m2 * len(samples.points) == pytest.approx(22.0)  # 2(1·2 + 2·3 + 1·3)


def test_points_lie_on_the_surface_with_its_normals(make_box):
    samples = sample_surface(make_box((1.0, 2.0, 3.0)), 0.05)
    reach = samples.points / (0.5, 1.0, 1.5)
    face = np.abs(reach).argmax(axis=1)
    rows = np.arange(len(face))
    assert np.abs(np.abs(reach[rows, face]) - 1).max() < 1e-12
    assert np.abs(samples.normals[rows, face] - np.sign(reach[rows, face])).max() < 1e-12


def test_samples_are_even_enough_for_a_centroid(make_box):
    samples = sample_surface(make_box((1.0, 2.0, 3.0), (5.0, 0.0, 0.0)), 0.05)
    assert np.abs(samples.points.mean(axis=0) - (5, 0, 0)).max() < 0.01


def test_the_same_surface_gives_the_same_points(make_box):
    surface = make_box((1.0, 1.0, 1.0))
    first, second = sample_surface(surface, 0.1), sample_surface(surface, 0.1)
    assert (first.points == second.points).all()


def test_number_of_points_is_bounded(make_box):
    surface = make_box((1.0, 1.0, 1.0))
    assert len(sample_surface(surface, 10.0).points) == 4000
    assert len(sample_surface(surface, 1e-4, at_most=5000).points) == 5000


@pytest.mark.parametrize("vertices", [np.zeros((3, 3)), np.full((3, 3), np.nan)])
def test_a_surface_without_area_is_refused(vertices):
    with pytest.raises(MeshFileError):
        sample_surface(Surface(vertices, np.array([[0, 1, 2]])), 0.1)


def test_nearest_points_are_about_the_spacing_apart():
    mesh = trimesh.creation.icosphere(subdivisions=3)
    samples = sample_surface(Surface(np.array(mesh.vertices), np.array(mesh.faces)), 0.03)
    nearest = cKDTree(samples.points).query(samples.points, k=2)[0][:, 1]
    assert 0.3 < np.median(nearest) / samples.spacing < 1.0
