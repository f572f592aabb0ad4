"""Proxies: light enough, closed, in the same place."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.boundary import find_open_edges
from core_calcs.mesh.mass_properties import measure_polyhedron
from core_calcs.mesh.proxies import make_proxy
from core_calcs.mesh.surface import Surface


@pytest.fixture(scope="module")
def torus() -> Surface:
    mesh = trimesh.creation.torus(major_radius=0.5, minor_radius=0.1, major_sections=96, minor_sections=48)
    return Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64))


@pytest.mark.parametrize("triangles", [12, 50, 400, 2000])
def test_light_enough_and_closed(torus: Surface, triangles: int) -> None:
    proxy = make_proxy(torus, triangles)
    assert 0 < len(proxy.faces) <= triangles
    assert not len(find_open_edges(proxy))
    assert (proxy.vertices.min(axis=0) >= torus.vertices.min(axis=0) - 1e-12).all()
    assert (proxy.vertices.max(axis=0) <= torus.vertices.max(axis=0) + 1e-12).all()


def test_fine_proxies_are_near(torus: Surface) -> None:
    found, true = measure_polyhedron(make_proxy(torus, 4000)), measure_polyhedron(torus)
    assert found.volume_m3 == pytest.approx(true.volume_m3, rel=0.1)
    assert found.centre_m == pytest.approx(true.centre_m, abs=0.01)


def test_small_surfaces_come_back_as_they_are(torus: Surface) -> None:
    assert make_proxy(torus, len(torus.faces)) is torus


def test_a_thin_blade_does_not_vanish() -> None:
    mesh = trimesh.creation.box(extents=(1, 1, 1e-4)).subdivide().subdivide().subdivide().subdivide()
    proxy = make_proxy(Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64)), 300)
    area = trimesh.Trimesh(proxy.vertices, proxy.faces, process=False).area
    assert area > 1.0
    assert not len(find_open_edges(proxy))


def test_too_few_triangles_are_refused(torus: Surface) -> None:
    with pytest.raises(ValueError, match="at least 12"):
        make_proxy(torus, 11)
