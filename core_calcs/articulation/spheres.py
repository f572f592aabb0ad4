"""Spheres fitted to a patch, and how far they may be believed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array


@dataclass(frozen=True, eq=False)
class Sphere:
    """A fitted sphere.

    centre : (3,) [m]; radius [m]
    residual : root mean square distance of the points from it [m]
    arc : greatest angle at the centre between a point and the patch's middle [rad]
    convex : whether the patch is the outside of the sphere
    """

    centre: Array
    radius: float
    residual: float
    arc: float
    convex: bool


def fit_sphere(points: Array, normal: Array) -> Sphere | None:
    """Least squares sphere through points (n, 3) of a patch with mean outward normal (3,); None for a plane.

    Algebraic fit: |p|² = 2 c·p + (r² - |c|²) is linear in c and the bracket.
    """
    middle = points.mean(axis=0)
    q = points - middle
    scale = float(np.linalg.norm(q, axis=1).max())
    if len(points) < 10 or not scale > 0:
        return None
    A = np.column_stack([2 * q / scale, np.ones(len(q))])
    solution, _, rank, _ = np.linalg.lstsq(A, (q**2).sum(axis=1) / scale**2, rcond=1e-9)
    if rank < 4:
        return None
    c = solution[:3] * scale
    radius = float(np.sqrt(max(solution[3] * scale**2 + c @ c, 0.0)))
    away = np.linalg.norm(q - c, axis=1)
    if not radius > 0 or radius > 1e3 * scale:
        return None
    to_middle = -c / max(float(np.linalg.norm(c)), 1e-300)
    arc = float(np.arccos(np.clip((q - c) @ to_middle / np.maximum(away, 1e-300), -1, 1)).max())
    return Sphere(middle + c, radius, float(np.sqrt(((away - radius) ** 2).mean())), arc, bool(c @ normal < 0))
