"""What of a body's shape does not depend on where it stands, and whether two bodies are the same or mirror images."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..spatial.transforms import Array
from .solid import Solid
from .surface import Surface

Likeness = Literal["copy", "mirror image", "either", ""]
"""Of two bodies: the one moved; the one mirrored and moved; both at once, for a body that is its own mirror image; no
likeness."""

SAME_SHARE = 2e-5
"""Size and radii of exact likenesses agree within this share of the size: what digits of a file leave."""
SAME_SKEW = 5e-5
"""And so do their skews."""


@dataclass(frozen=True, eq=False)
class Shape:
    """Figures that stay when a body is moved.

    size_m : cube root of the volume
    radii_m : (3,) radii of inertia about the principal axes, rising; 0 where the body encloses nothing
    skew : (3,) mean cubes of the surface's offsets along the principal axes, from the centre, in cubes of the size; the
        axes are turned so that the first two are not below 0 and the three are right-handed: the third then changes
        its sign in a mirror image
    """

    size_m: float
    radii_m: Array
    skew: Array


def measure_shape(surface: Surface, solid: Solid) -> Shape:
    """The shape of a body from its surface (put right) and what it encloses."""
    if solid.volume_m3 <= 0:
        return Shape(0.0, np.zeros(3), np.zeros(3))
    size = float(np.cbrt(solid.volume_m3))
    moments, axes = np.linalg.eigh(solid.inertia_m5)
    axes[:, 2] = np.cross(axes[:, 0], axes[:, 1])
    skew = _mean_cubes(surface, solid.centre_m, axes) / size**3
    turned = np.where(skew[:2] < 0, -1.0, 1.0)
    skew *= np.array([*turned, turned.prod()])
    return Shape(size, np.sqrt(np.clip(moments, 0, None) / solid.volume_m3), skew)


def compare_shapes(one: Shape, other: Shape) -> Likeness:
    """Whether one body is an exact copy or mirror image of the other, wherever they stand."""
    size = max(one.size_m, other.size_m)
    if size <= 0 or abs(one.size_m - other.size_m) > SAME_SHARE * size:
        return ""
    if np.abs(one.radii_m - other.radii_m).max() > SAME_SHARE * size:
        return ""
    copy = bool(np.abs(one.skew - other.skew).max() < SAME_SKEW)
    image = bool(np.abs(one.skew * (1, 1, -1) - other.skew).max() < SAME_SKEW)
    # An axis without skew may be turned either way, and the hand with it.
    if min(one.skew[:2].min(), other.skew[:2].min()) < SAME_SKEW:
        return "either" if np.abs(np.abs(one.skew) - np.abs(other.skew)).max() < SAME_SKEW else ""
    return "either" if copy and image else "copy" if copy else "mirror image" if image else ""


def _mean_cubes(surface: Surface, centre: Array, axes: Array) -> Array:
    """(3,) area-weighted means of the cubes of the offsets along the axes' columns, exact on every triangle [m3]."""
    local = (surface.vertices - centre) @ axes
    a, b, c = (local[column] for column in surface.faces.T)
    areas = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    # The mean of x³ over a triangle is the sum of all its products of three corners, repeats allowed, over ten.
    first, second, third = a + b + c, a * b + b * c + c * a, a * b * c
    cubes = (first**3 - 2 * first * second + third) / 10
    mean: Array = areas @ cubes / max(float(areas.sum()), 1e-300)
    return mean
