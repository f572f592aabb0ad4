"""The part of a cube on one side of a plane: volume, centre and area of the cut, in closed form.

A box cut by a plane is an infinite wedge less the wedges from its other corners: the sum over the corners of
(-1)^k (α - corner·a)₊³ / (6 a₁ a₂ a₃), as in R. Scardovelli & S. Zaleski, J. Comput. Phys. 164 (2000) 228-237. The
first moments are its derivatives: ∂/∂aᵢ ∫ (α - a·x)₊ dx = -∫ xᵢ dx over the part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array

_CORNERS = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)], float)
_SIGNS = (-1.0) ** _CORNERS.sum(axis=1)
_LEAST_SLOPE = 1e-3
"""Planes nearer to square to an axis are tilted by this: the closed form divides by the product of the slopes."""


@dataclass(frozen=True, eq=False)
class CutCubes:
    """Of unit cubes about the origin: share (n,) inside, its centre (n, 3), area (n,) of the cut."""

    share: Array
    centre: Array
    area: Array


def cut_cubes(height: Array, normal: Array) -> CutCubes:
    """The parts of unit cubes about the origin where ``height + normal·x > 0``.

    Parameters
    ----------
    height : (n,) at the middle, in cube sides
    normal : (n, 3) unit vectors
    """
    a = np.maximum(np.abs(normal), _LEAST_SLOPE)
    a /= np.linalg.norm(a, axis=1)[:, None]
    # Mirrored so that the part holds the corner 0 of the cube from 0 to 1: a·x < alpha there.
    alpha = np.clip(height + a.sum(axis=1) / 2, 0, a.sum(axis=1))
    reach = np.maximum(alpha[:, None] - a @ _CORNERS.T, 0)
    product = a[:, 0] * a[:, 1] * a[:, 2]
    squares = reach * reach  # sooner than powers
    cubes = squares * reach * _SIGNS
    share = cubes.sum(axis=1) / (6 * product)
    wedge = np.einsum("ij,ij->i", cubes, reach) / (24 * product)
    moments = wedge[:, None] / a + (cubes @ _CORNERS) / (6 * product[:, None])
    cut = share > 1e-9
    middle = np.full_like(moments, 0.5)
    middle[cut] = moments[cut] / share[cut, None]
    centre = (0.5 - np.clip(middle, 0, 1)) * np.where(normal < 0, -1.0, 1.0)
    area = np.maximum(squares @ _SIGNS / (2 * product), 0)
    return CutCubes(np.clip(share, 0, 1), centre, area)
