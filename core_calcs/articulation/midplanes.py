"""The middle plane of an element: the mirror in which its surface comes nearest to itself.

Found from the shape alone, so that elements standing anywhere have one. The mirrored samples are laid on the surface
by least squares of distances to tangent planes, as Chen & Medioni (Image and Vision Computing 10, 1992, 145-155) lay
one view of an object on another; of three unknowns, two turn the plane and one moves it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array, apply
from .partner import Partner

_TRIED = 12
"""Planes along a direction that are tried first."""
_POINTS = 1200
_STEPS, _STILL = 30, 1e-5
_KEPT = 0.8
"""Of the mirrored samples this share counts, the nearest: a broken process has no image."""


@dataclass(frozen=True, eq=False)
class Midplane:
    """A plane that mirrors an element into itself; world of the neutral articulation.

    point, normal : (3,) of the plane [m], unit
    off_m : root mean square distance of the mirrored surface from the surface, the nearest four fifths of it
    sided : the normal is known to look to the animal's left
    back : (3,) roughly to the animal's back; None: nothing tells it from the belly
    """

    point: Array
    normal: Array
    off_m: float
    sided: bool = True
    back: Array | None = None

    def move(self, D: Array) -> Midplane:
        """The plane after a rigid motion (4, 4) of its element."""
        R = D[:3, :3]
        back = None if self.back is None else R @ self.back
        return Midplane(apply(D, self.point[None])[0], R @ self.normal, self.off_m, self.sided, back)


def find_midplane(element: Partner, across: Array) -> Midplane:
    """The plane next to one through the centre of volume across a direction (3,), roughly from right to left."""
    samples = element.samples
    few = np.arange(0, len(samples.points), max(1, len(samples.points) // _POINTS))
    tree = cKDTree(samples.points)
    points = samples.points[few]
    normal, place = across / np.linalg.norm(across), element.centre
    for _ in range(_STEPS):
        mirrored = points - 2 * np.outer((points - place) @ normal, normal)
        distance, nearest = (np.asarray(found) for found in tree.query(mirrored))
        kept = distance <= np.quantile(distance, _KEPT)
        m, off = samples.normals[nearest[kept]], mirrored[kept] - samples.points[nearest[kept]]
        plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
        offset, along = points[kept] - place, m @ normal
        turns = -2 * (along[:, None] * (offset @ plane) + ((offset @ normal)[:, None]) * (m @ plane))
        A = np.column_stack([turns, 2 * element.size * along])
        step = np.linalg.lstsq(A, -np.einsum("ij,ij->i", off, m), rcond=None)[0]
        place = place + element.size * step[2] * normal
        normal = normal + plane @ step[:2]
        normal /= np.linalg.norm(normal)
        if np.abs(step).max() < _STILL:
            break
    heights = np.einsum("ij,ij->i", off, m)
    return Midplane(place, normal, float(np.sqrt((heights**2).mean())))


def search_midplane(element: Partner, along: Array) -> Midplane:
    """The best plane along a direction (3,), that of the column at the element; which side is left is not known."""
    one = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    other = np.cross(along, one)
    turns = np.arange(_TRIED) * np.pi / _TRIED
    tried = [
        find_midplane(element, np.cos(turn) * one + np.sin(turn) * other / np.linalg.norm(along)) for turn in turns
    ]
    held = [plane for plane in tried if abs(float(plane.normal @ along)) < 0.5 * np.linalg.norm(along)] or tried
    return replace(min(held, key=lambda plane: plane.off_m), sided=False)
