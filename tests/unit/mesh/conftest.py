"""Small surfaces whose measures are known."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.surface import Surface

BoxMaker = Callable[..., Surface]
Triple = tuple[float, float, float]


def as_surface(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64))


@pytest.fixture
def make_box() -> BoxMaker:
    """A closed box: edges, and where its middle is."""

    def make(
        extents: tuple[float, float, float] = (0.4, 0.3, 0.2), at: tuple[float, float, float] = (0, 0, 0)
    ) -> Surface:
        box = trimesh.creation.box(extents=extents)
        return Surface(np.array(box.vertices, float) + at, np.array(box.faces, np.int64))

    return make


@pytest.fixture
def ball() -> Surface:
    """An icosphere of radius 1 and 1280 triangles."""
    return as_surface(trimesh.creation.icosphere(subdivisions=3))
