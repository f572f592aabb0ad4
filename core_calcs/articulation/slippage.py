"""How a patch may turn along itself: the rotations under which a surface slides on its own shape, and its two bends.

Turned about an axis and moved by a translation, a patch opens from its old place by the normal part of each point's
motion. The least opening over all translations, for each of three axes at right angles, tells a ball (nothing opens), a
hinge (one axis is free), a saddle (two are) and a surface that holds fast. Gelfand & Guibas, *Shape segmentation using
local slippage analysis*, Symposium on Geometry Processing 2004; the axis of a surface of revolution from its normals:
Pottmann, Peternell & Ravani, *An introduction to line geometry with applications*, CAD 31 (1999).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array

_FIRMNESS = 1e-4
"""Translations that open a patch by less than this share of their length count as free: none is asked of them."""


@dataclass(frozen=True, eq=False)
class Turning:
    """An axis in space: axis (3,) unit direction, place (3,) a point on it [m]."""

    axis: Array
    place: Array


@dataclass(frozen=True, eq=False)
class Slippage:
    """Turning a patch along itself.

    turnings : three axes at right angles, the freest first
    openings : (3,) root mean square opening per radian of turn about each, as a share of `reach`
    reach : root mean square distance of the patch's points from their middle [m]
    """

    turnings: tuple[Turning, ...]
    openings: Array
    reach: float


def measure_slippage(points: Array, normals: Array) -> Slippage:
    """Slippage of a patch given by points (n, 3) [m] and unit normals (n, 3)."""
    middle = points.mean(axis=0)
    q = points - middle
    reach = float(np.sqrt((q**2).sum(axis=1).mean()))
    q = q / reach
    turning = np.cross(q, normals)
    count = len(q)
    A, B, C = turning.T @ turning / count, turning.T @ normals / count, normals.T @ normals / count
    weights, directions = np.linalg.eigh(C)
    kept = weights > _FIRMNESS
    inverse = (directions[:, kept] / weights[kept]) @ directions[:, kept].T
    values, axes = np.linalg.eigh(A - B @ inverse @ B.T)
    rows = axes.T
    moves = -(inverse @ B.T @ axes).T
    # The axis of a turn ω with the translation v runs through ω × v; what of v runs along ω is the screw's pitch.
    places = middle + reach * np.cross(rows, moves)
    turnings = tuple(Turning(axis, place) for axis, place in zip(rows, places, strict=True))
    return Slippage(turnings, np.sqrt(np.maximum(values, 0)), reach)


def find_bends(points: Array, normals: Array) -> tuple[Turning, Turning] | None:
    """The two principal axes of a patch, from a quadric over its middle plane, the more strongly bent first.

    Each runs through the centre of curvature, across the direction that is bent. None for a plane.
    """
    middle, normal = points.mean(axis=0), normals.mean(axis=0)
    normal = normal / max(float(np.linalg.norm(normal)), 1e-300)
    plane = np.linalg.svd(normal[None, :])[2][1:]
    q = points - middle
    uv, height = q @ plane.T, q @ normal
    u, v = uv.T
    terms = np.linalg.lstsq(np.column_stack([np.ones(len(u)), u, v, u * u / 2, u * v, v * v / 2]), height, rcond=None)[
        0
    ]
    curvatures, directions = np.linalg.eigh(np.array([[terms[3], terms[4]], [terms[4], terms[5]]]))
    order = np.argsort(-np.abs(curvatures))
    if not abs(curvatures[order[-1]]) > 0:
        return None
    found = []
    for k in order:
        bent = directions[:, k] @ plane
        found.append(Turning(np.cross(normal, bent), middle + normal * (terms[0] + 1 / curvatures[k])))
    return found[0], found[1]
