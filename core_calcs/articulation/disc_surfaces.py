"""The disc between two end plates as a closed surface: it conforms to both, and is lofted from rim to rim.

Rims and surfaces are laid out on the plane across the disc by angle about each plate's middle, so that every point of
one plate has its fellow on the other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..mesh.surface import Surface
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array
from .facets import Patch

_ANGLES, _RINGS, _NEAREST = 64, 8, 4
_THINNEST = 0.05
"""Nowhere is a disc thinner than this share of its mean thickness, even where the bones touch."""


def make_disc_surface(on_parent: Patch, on_child: Patch, rims: tuple[Array, Array]) -> Surface:
    """The closed surface of the disc between two end plates, all in one frame, wound outwards.

    Parameters
    ----------
    rims : (k, 3) outlines of the two end plates, closed loops

    Raises
    ------
    SkeletonError : the end plates touch or overlap in the mean: there is no room for a disc
    """
    axis = on_parent.normal - on_child.normal
    axis = axis / np.linalg.norm(axis)
    plane = np.linalg.svd(np.eye(3) - np.outer(axis, axis))[0][:, :2]
    if np.cross(plane[:, 0], plane[:, 1]) @ axis < 0:
        plane = plane[:, ::-1]
    lower = _lay_out(on_parent, rims[0], plane, axis)
    upper = _lay_out(on_child, rims[1], plane, axis)
    thickness = (upper - lower) @ axis
    mean = float(thickness.mean())
    if not mean > 0:
        what = f"its end plates touch: {1000 * mean:.2f} mm are between them in the mean"
        raise SkeletonError(f"joint of {on_child.element.name}", what, "set the thickness of its disc first")
    lacking = np.maximum(_THINNEST * mean - thickness, 0)[:, None] / 2 * axis
    return Surface(np.concatenate([lower - lacking, upper + lacking]), _join(len(lower)))


def _lay_out(patch: Patch, rim: Array, plane: Array, axis: Array) -> Array:
    """(1 + rings * angles, 3) the plate's middle and its rings from within outwards, on its surface."""
    flat = patch.points @ plane
    middle = flat.mean(axis=0)
    angles = np.arange(_ANGLES) * 2 * np.pi / _ANGLES
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    reach = _find_reach(rim @ plane - middle, ways)
    shares = np.arange(1, _RINGS + 1) / _RINGS
    rings = middle + (shares[:, None, None] * reach[:, None] * ways).reshape(-1, 2)
    places = np.concatenate([middle[None], rings])
    distance, nearest = (np.asarray(found) for found in cKDTree(flat).query(places, k=_NEAREST))
    weights = 1 / np.maximum(distance, 1e-3 * patch.samples.spacing)
    heights = ((patch.points @ axis)[nearest] * weights).sum(axis=1) / weights.sum(axis=1)
    laid: Array = places @ plane.T + heights[:, None] * axis
    return laid


def _find_reach(rim: Array, ways: Array) -> Array:
    """(n,) how far directions (n, 2) go from the origin until they leave a loop (k, 2) about it."""
    start, along = rim, np.roll(rim, -1, axis=0) - rim
    cross = ways[:, None, 0] * along[:, 1] - ways[:, None, 1] * along[:, 0]
    safe = np.where(np.abs(cross) < 1e-30, 1.0, cross)
    far = (start[:, 0] * along[:, 1] - start[:, 1] * along[:, 0]) / safe
    on = (start[:, 0] * ways[:, None, 1] - start[:, 1] * ways[:, None, 0]) / safe
    meets = (np.abs(cross) >= 1e-30) & (far > 0) & (on >= 0) & (on <= 1)
    reach: Array = np.where(meets, far, 0.0).max(axis=1)
    gone = reach <= 0
    reach[gone] = np.linalg.norm(rim, axis=1).min()
    return reach


def _join(count: int) -> NDArray[np.int64]:
    """Triangles of the lower plate, the upper plate (its vertices after `count`) and what joins their rims."""
    k = np.arange(_ANGLES)
    after = (k + 1) % _ANGLES
    cap = [np.column_stack([np.zeros_like(k), 1 + k, 1 + after])]
    for ring in range(_RINGS - 1):
        inner, outer = 1 + ring * _ANGLES, 1 + (ring + 1) * _ANGLES
        cap.append(np.column_stack([inner + k, outer + k, outer + after]))
        cap.append(np.column_stack([inner + k, outer + after, inner + after]))
    upper = np.concatenate(cap)
    rim = 1 + (_RINGS - 1) * _ANGLES
    low, next_low, high, next_high = rim + k, rim + after, count + rim + k, count + rim + after
    side = [np.column_stack([low, next_low, next_high]), np.column_stack([low, next_high, high])]
    return np.concatenate([upper[:, ::-1], upper + count, *side]).astype(np.int64)
