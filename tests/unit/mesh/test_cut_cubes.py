"""Cubes cut by planes against counting of points, and against what symmetry says."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.mesh.cut_cubes import cut_cubes

POINTS = (np.stack(np.meshgrid(*[np.arange(60)] * 3, indexing="ij"), axis=-1).reshape(-1, 3) + 0.5) / 60 - 0.5


def make_planes(count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(7)
    normals = rng.normal(size=(count, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    return rng.uniform(-0.6, 0.6, count), normals


def test_against_counted_points() -> None:
    heights, normals = make_planes(40)
    cut = cut_cubes(heights, normals)
    for height, normal, share, centre in zip(heights, normals, cut.share, cut.centre, strict=True):
        inside = POINTS[height + POINTS @ normal > 0]
        assert share == pytest.approx(len(inside) / len(POINTS), abs=2e-3)
        if len(inside) > 1000:
            assert centre == pytest.approx(inside.mean(axis=0), abs=3e-3)


def test_area_is_the_slope_of_the_share() -> None:
    heights, normals = make_planes(40)
    step = 1e-5
    slope = (cut_cubes(heights + step, normals).share - cut_cubes(heights - step, normals).share) / (2 * step)
    assert cut_cubes(heights, normals).area == pytest.approx(slope, abs=1e-5)


@pytest.mark.parametrize("normal", [(1, 0, 0), (0, -1, 0), (0, 0, 1), (0.6, 0.8, 0), (0, -0.6, 0.8)])
def test_planes_along_the_axes(normal: tuple[float, float, float]) -> None:
    n = np.array([normal], float)
    half = cut_cubes(np.zeros(1), n)
    assert half.share[0] == pytest.approx(0.5, abs=1e-6)
    for height, share in ((2.0, 1.0), (-2.0, 0.0)):
        assert cut_cubes(np.array([height]), n).share[0] == pytest.approx(share, abs=1e-6)
    if np.count_nonzero(normal) == 1:
        quarter = cut_cubes(np.array([-0.25]), n)
        assert quarter.share[0] == pytest.approx(0.25, abs=1e-4)
        assert quarter.centre[0] == pytest.approx(0.375 * n[0], abs=2e-3)
