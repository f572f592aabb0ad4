"""Silhouettes against closed forms, and against shapely on surfaces that the method was not made on."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.element_surface import read_bodies
from core_calcs.mesh.silhouettes import measure_silhouette, outline_body, place_bodies
from core_calcs.mesh.surface import Surface

sys.path.insert(0, str(Path(__file__).parents[1]))
import made_up_vertebrae
import shapely_oracle

WITHIN = 0.003
DIRECTIONS = ((1, 0, 0), (0.6, 0.8, 0), (-0.3, 0.5, 0.81))


def surface_of(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64))


def look(surfaces, X, direction):
    crowd = place_bodies([outline_body(own) for own in surfaces], np.array(X))
    return measure_silhouette(crowd, np.asarray(direction, float))


def shifted(*p: float) -> np.ndarray:
    X = np.eye(4)
    X[:3, 3] = p
    return X


def test_box_at_angles(check_value):
    """What a box shows: the sum of its three faces' areas times the cosines."""
    a, b, c = 0.4, 0.7, 1.1
    box = surface_of(trimesh.creation.box((a, b, c)))
    for direction in DIRECTIONS:
        d = np.abs(np.asarray(direction) / np.linalg.norm(direction))
        expected = float(d @ (b * c, a * c, a * b))
        got = look([box], [np.eye(4)], direction).area_m2
        check_value(f"silhouette of a box seen along {direction} [m²]", "closed form", "D", expected, got, rel=1e-4)


def test_sphere(check_value):
    """Faceted, its silhouette falls short of πr² by less than .02 %."""
    ball = surface_of(trimesh.creation.icosphere(6, 0.5))
    for direction in DIRECTIONS:
        got = look([ball], [shifted(3, -2, 1)], direction)
        check_value(f"sphere r .5 seen along {direction} [m²]", "πr²", "D", np.pi / 4, got.area_m2, rel=5e-4)
        d = np.asarray(direction) / np.linalg.norm(direction)
        centre = np.array([3, -2, 1.0])
        check_value(
            f"its centroid, seen along {direction} [m]", "closed form", "D", centre - d * (d @ centre),
            got.centroid_m, abs=1e-4,
        )  # fmt: skip


def test_torus_keeps_its_hole(check_value):
    n, R, r = 256, 1.0, 0.3
    ring = surface_of(trimesh.creation.torus(R, r, major_sections=n, minor_sections=64))
    expected = n * np.sin(2 * np.pi / n) / 2 * ((R + r) ** 2 - (R - r) ** 2)
    got = look([ring], [np.eye(4)], (0, 0, 1))
    check_value("torus along its axis, of 256 sectors [m²]", "polygons' annulus", "D", expected, got.area_m2, rel=3e-4)


def test_two_overlapping_balls(check_value):
    """Two circles of radius r, d apart: twice πr² less the lens."""
    r, d = 0.5, 0.6
    lens = 2 * r**2 * np.arccos(d / (2 * r)) - d / 2 * np.sqrt(4 * r**2 - d**2)
    ball = surface_of(trimesh.creation.icosphere(6, r))
    got = look([ball, ball], [np.eye(4), shifted(2.0, d, 0)], (1, 0, 0))
    source = "circles' lens, closed form"
    check_value("two balls one before the other [m²]", source, "D", 2 * np.pi * r**2 - lens, got.area_m2, rel=5e-4)
    share = np.pi * r**2 - lens / 2
    check_value("what falls to each of them [m²]", source, "D", [share, share], got.shared_m2, rel=5e-4)
    check_value("each by itself [m²]", "πr²", "D", [np.pi * r**2] * 2, got.own_m2, rel=5e-4)


def hold_against_shapely(check_value, name, surfaces, X, direction):
    plane = shapely_oracle.find_plane(np.array(direction))
    parts, union = shapely_oracle.cover_all(surfaces, X, plane)
    got = look(surfaces, X, direction)
    source, where = "shapely, union of the triangles", f"{name}, seen along {np.round(direction, 2).tolist()}"
    check_value(f"{where}: area of the union [m²]", source, "D+mesh", union.area, got.area_m2, rel=WITHIN)
    own = [part.area for part in parts]
    check_value(f"{where}: elements by themselves [m²]", source, "D+mesh", own, got.own_m2, rel=WITHIN)
    centroid = shapely_oracle.find_centroid(union, plane)
    within = WITHIN * np.sqrt(union.area)
    check_value(f"{where}: centroid [m]", source, "D+mesh", centroid, got.centroid_m, abs=within)


@pytest.mark.parametrize("seed", range(6))
def test_random_surfaces(check_value, seed):
    """Lumps, rings and blades in any attitude, seen from anywhere."""
    rng = np.random.default_rng([seed, 77])
    surfaces, X = [], []
    for _ in range(int(rng.integers(2, 14))):
        mesh = (
            trimesh.creation.icosphere(3, 1.0),
            trimesh.creation.torus(0.8, 0.2),
            trimesh.creation.box((0.05, 1.0, 2.0)),
        )[rng.integers(3)]
        bumps = 1 + 0.2 * np.sin(4 * mesh.vertices @ rng.normal(size=3))
        size = 10 ** rng.uniform(-1.5, 0)
        surfaces.append(Surface(np.array(mesh.vertices * bumps[:, None] * size), np.array(mesh.faces, np.int64)))
        own = trimesh.transformations.random_rotation_matrix(rng.random(3))
        own[:3, 3] = rng.normal(size=3)
        X.append(own)
    hold_against_shapely(check_value, f"random surfaces {seed}", surfaces, X, rng.normal(size=3))


@pytest.mark.parametrize("ball", [0.0, 0.3])
def test_made_up_bones(check_value, ball):
    bones = made_up_vertebrae.make_vertebrae(made_up_vertebrae.Shape(ball, 60.0), 0.01)
    X = [np.eye(4), shifted(0.1, 0.2, 0.3)]
    for direction in DIRECTIONS[1:]:
        hold_against_shapely(check_value, f"made-up vertebrae, ball {ball}", bones, X, direction)


@pytest.mark.parametrize("direction", DIRECTIONS[:2])
def test_dog(check_value, dog_folder: Path, direction):
    """All the bones of a dog, the rib cage in its bodies."""
    surfaces = [
        body for file in sorted(dog_folder.glob("BONE*.stl")) for body in read_bodies(dog_folder, file.name, 1.0)
    ]
    X = np.tile(np.eye(4), (len(surfaces), 1, 1))
    hold_against_shapely(check_value, f"dog, {len(surfaces)} bodies", surfaces, X, direction)
