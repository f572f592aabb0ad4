"""Volume, centre and inertia of the polyhedron that a closed surface bounds, exact up to rounding.

The integrals are those of B. Mirtich, "Fast and Accurate Computation of Polyhedral Mass Properties", J. Graphics
Tools 1(2), 1996, written as signed tetrahedra from one point inside: the divergence theorem with the point chosen
near the centre, so that a body far from the origin loses no figures.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array
from .surface import Surface

CHUNK = 1 << 16


@dataclass(frozen=True, eq=False)
class MassProperties:
    """Of a body of density 1 kg/m3.

    volume_m3 : < 0 where the surface is wound inwards
    centre_m : (3,) centre of volume; the middle of the bounding box where the volume is 0
    inertia_m5 : (3, 3) tensor about the centre, products with their minus sign: I_xy = -∫ x y dV
    """

    volume_m3: float
    centre_m: Array
    inertia_m5: Array


def measure_polyhedron(surface: Surface) -> MassProperties:
    """Mass properties of the polyhedron bounded by a closed surface, in the surface's frame."""
    if not len(surface.faces):
        return MassProperties(0.0, np.zeros(3), np.zeros((3, 3)))
    shift = (surface.vertices.min(axis=0) + surface.vertices.max(axis=0)) / 2
    vertices = surface.vertices - shift
    volume, first, second = 0.0, np.zeros(3), np.zeros((3, 3))
    for start in range(0, len(surface.faces), CHUNK):
        a, b, c = (vertices[column] for column in surface.faces[start : start + CHUNK].T)
        six_volumes = np.einsum("ij,ij->i", a, np.cross(b, c))
        corners = a + b + c
        volume += float(six_volumes.sum()) / 6
        first += six_volumes @ corners / 24
        for points in (a, b, c, corners):
            second += (points * six_volumes[:, None]).T @ points / 120
    if volume == 0.0:
        return MassProperties(0.0, shift, np.zeros((3, 3)))
    centre = first / volume
    return MassProperties(volume, shift + centre, inertia_of(second - volume * np.outer(centre, centre)))


def inertia_of(second_m5: Array) -> Array:
    """Inertia tensor (3, 3) from the second moments ∫ r rᵀ dV (3, 3) about the same point."""
    symmetric = (second_m5 + second_m5.T) / 2
    inertia: Array = np.trace(symmetric) * np.eye(3) - symmetric
    return inertia


def join_properties(parts: list[MassProperties]) -> MassProperties:
    """Mass properties of several bodies taken together; overlap counts twice."""
    volume = sum(part.volume_m3 for part in parts)
    if not parts or volume == 0.0:
        return MassProperties(0.0, parts[0].centre_m if parts else np.zeros(3), np.zeros((3, 3)))
    centre = sum((part.volume_m3 * part.centre_m for part in parts), np.zeros(3)) / volume
    inertia = np.zeros((3, 3))
    for part in parts:
        inertia += part.inertia_m5 + inertia_of(
            part.volume_m3 * np.outer(part.centre_m - centre, part.centre_m - centre)
        )
    return MassProperties(volume, centre, inertia)
