"""Shapes: the same wherever a body stands, told apart from mirror images where a body has a hand."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from core_calcs.mesh.shape import Likeness, Shape, compare_shapes, measure_shape
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

MIRROR = np.diag([1.0, -1.0, 1.0])
LEVER = Rotation.from_rotvec([0.3, -1.1, 0.7]).as_matrix()


def measure(vertices: np.ndarray, faces: np.ndarray) -> Shape:
    return measure_shape(*survey_body(Surface(np.array(vertices, float), np.array(faces, np.int64))))


@pytest.fixture(scope="module")
def handed() -> trimesh.Trimesh:
    """A bent, skewed lump that no mirror leaves as it is."""
    lump = trimesh.creation.icosphere(subdivisions=3)
    x, y, z = np.array(lump.vertices).T
    lump.vertices = np.stack([1.7 * x + 0.4 * y**2, y + 0.3 * x * z, 0.6 * z + 0.2 * x**2 + 0.15 * y * z], axis=1)
    return lump


@pytest.mark.parametrize(("turn", "likeness"), [(LEVER, "copy"), (LEVER @ MIRROR, "mirror image")])
def test_a_lump_with_a_hand(handed: trimesh.Trimesh, turn: np.ndarray, likeness: Likeness) -> None:
    moved = np.array(handed.vertices) @ turn.T + (3, -2, 5)
    faces = handed.faces if np.linalg.det(turn) > 0 else handed.faces[:, ::-1]
    assert compare_shapes(measure(handed.vertices, handed.faces), measure(moved, faces)) == likeness


def test_what_is_its_own_mirror_image_may_be_either() -> None:
    egg = trimesh.creation.icosphere(subdivisions=3)
    x, y, z = np.array(egg.vertices).T
    vertices = np.stack([1.7 * x + 0.3 * z**2, y, 0.6 * z], axis=1)
    assert compare_shapes(measure(vertices, egg.faces), measure(vertices @ LEVER.T, egg.faces)) == "either"


def test_the_digits_of_a_file_do_not_matter_but_a_thousandth_does(handed: trimesh.Trimesh) -> None:
    vertices = 0.03 * np.array(handed.vertices)
    there = (vertices @ (LEVER @ MIRROR).T + (4, 1, 2)).astype(np.float32)  # as an STL file keeps it, four metres off
    shape = measure(vertices, handed.faces)
    assert compare_shapes(shape, measure(there, handed.faces[:, ::-1])) == "mirror image"
    assert compare_shapes(shape, measure(1.001 * vertices, handed.faces)) == ""


def test_mean_cubes_of_a_triangle_are_exact() -> None:
    """The skew of one tetrahedron by quadrature: points in a fine barycentric grid of every face."""
    corners = np.array([[0, 0, 0], [2, 0, 0], [0, 1.2, 0], [0.3, 0.2, 0.7]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    shape = measure(corners, faces)
    surface, solid = survey_body(Surface(corners, faces))
    axes = np.linalg.eigh(solid.inertia_m5)[1]
    n = 120
    u, v = np.array([(i + 1 / 3, j + 1 / 3) for i in range(n) for j in range(n - i)]).T / n
    total, area = np.zeros(3), 0.0
    for a, b, c in surface.vertices[surface.faces]:
        points = a + u[:, None] * (b - a) + v[:, None] * (c - a)
        double = float(np.linalg.norm(np.cross(b - a, c - a)))
        total += double * (((points - solid.centre_m) @ axes) ** 3).mean(axis=0)
        area += double
    assert np.abs(shape.skew) == pytest.approx(np.abs(total / area) / shape.size_m**3, rel=2e-2)


def test_nothing_is_like_nothing() -> None:
    nothing = Shape(0.0, np.zeros(3), np.zeros(3))
    assert compare_shapes(nothing, nothing) == ""
