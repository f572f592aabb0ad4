"""Laying one surface upon another of like shape: what reflection or motion takes a bone to its partner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from ..mesh.nearest import find_on_triangles
from ..mesh.samples import Samples, sample_surface
from ..mesh.surface import Surface
from ..spatial.transforms import Array, make_transform

_POINTS, _DENSE = 1500, 20_000
_ROUNDS = 40
_BY_NORMAL = 0.15
"""Of the extent: how far off a point counts that looks the other way by one radian."""
_KEPT = 0.9
"""Share of the points that must lie near: what is broken off or grown on one alone has no say."""
_WEAK = 1e-4
"""A movement that so little speaks for, as the spin of a roller about its axis, is left as it was."""
_BETTER = 0.8
"""A later start counts where less than this share of the distance is left."""
_ALIKE = 1e-3
"""Of the extent: what lies so near lies right, and no other start is tried."""


@dataclass(frozen=True, eq=False)
class Alignment:
    """X : (4, 4) takes the one surface to the other, with a reflection where the start had one.

    residual_m : root mean square distance of points of the one from the other, the farthest tenth left out
    """

    X: Array
    residual_m: float


def align(one: Surface, other: Surface, starts: Sequence[Array]) -> Alignment:
    """Lay one surface upon another, from the best of some starts (4, 4); an earlier one is preferred.

    Each point is brought nearer to the plane of the triangle that is nearest in place and in the way it looks, all
    together by least squares (point to plane), again and again.
    """
    target = _Target(other)
    points = sample_surface(one, np.inf, _POINTS, _POINTS)
    best: Alignment | None = None
    for start in starts:
        found = _approach(points, target, start)
        if best is None or found.residual_m < _BETTER * best.residual_m:
            best = found
        if best.residual_m < _ALIKE * target.extent:
            break
    if best is None:
        raise ValueError("no start is given")
    return best


def list_starts(centres: tuple[Array, Array], inertias: tuple[Array, Array], reflection: Array) -> list[Array]:
    """Ways (4, 4) in which a mirrored body may lie upon another: at its place, moved to its centre, and the four in
    which their principal axes coincide.

    Parameters
    ----------
    centres : (3,) of the two, inertias : (3, 3) about them, all in the world
    reflection : (4, 4) of the mid-plane
    """
    M = reflection[:3, :3]
    axes = [np.linalg.eigh(inertia)[1] for inertia in (M @ inertias[0] @ M.T, inertias[1])]
    turns = [np.eye(3)]
    for signs in ((1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)):
        R = axes[1] @ np.diag(signs) @ axes[0].T
        turns.append(R if np.linalg.det(R) > 0 else -R)
    starts = [reflection]
    for turn in turns:
        linear = turn @ M
        X = np.eye(4)
        X[:3, :3], X[:3, 3] = linear, centres[1] - linear @ centres[0]
        starts.append(X)
    return starts


class _Target:
    """The surface that another is laid upon: nearest triangles by place and by the way they look."""

    def __init__(self, surface: Surface) -> None:
        dense = sample_surface(surface, np.inf, _DENSE, _DENSE)
        self.extent = float(np.linalg.norm(np.ptp(surface.vertices, axis=0)))
        self.corners = surface.vertices[surface.faces[dense.triangles]]
        self.scale = _BY_NORMAL * self.extent
        self.tree = cKDTree(np.concatenate([dense.points, self.scale * dense.normals], axis=1))

    def find(self, points: Array, normals: Array) -> Array:
        """The nearest points (n, 3) of the surface."""
        rows = self.tree.query(np.concatenate([points, self.scale * normals], axis=1))[1]
        return find_on_triangles(points, self.corners[rows])


def _approach(samples: Samples, target: _Target, start: Array) -> Alignment:
    X = np.array(start, float)
    for _ in range(_ROUNDS):
        points, normals = samples.points @ X[:3, :3].T + X[:3, 3], samples.normals @ X[:3, :3].T
        nearest = target.find(points, normals)
        motion, moved = _step(points, normals, nearest, target.extent)
        X = motion @ X
        if moved < 1e-9:
            break
    points, normals = samples.points @ X[:3, :3].T + X[:3, 3], samples.normals @ X[:3, :3].T
    away = np.sort(np.linalg.norm(points - target.find(points, normals), axis=1))
    return Alignment(X, float(np.sqrt(np.mean(away[: int(_KEPT * len(away))] ** 2))))


def _step(points: Array, normals: Array, nearest: Array, extent: float) -> tuple[Array, float]:
    """The small rigid motion (4, 4) that brings the points nearer, and how far it goes, in extents."""
    away = np.linalg.norm(points - nearest, axis=1)
    near = away <= max(float(np.quantile(away, _KEPT)), 1e-12 * extent)
    p, n, off = points[near], normals[near], np.einsum("ij,ij->i", normals[near], nearest[near] - points[near])
    centre = p.mean(axis=0)
    rows = np.concatenate([n, np.cross(p - centre, n) / extent], axis=1)
    strength, ways = np.linalg.eigh(rows.T @ rows)
    strong = strength > _WEAK * strength[-1]
    x = ways[:, strong] @ ((ways[:, strong].T @ (rows.T @ off)) / strength[strong])
    R = Rotation.from_rotvec(x[3:] / extent).as_matrix()
    motion = make_transform(R, x[:3] + centre - R @ centre)
    return motion, float(np.linalg.norm(x) / extent)
