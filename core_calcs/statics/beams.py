"""A chain of bodies read as one beam: local axes at its joints, and the wrenches there along them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array

UPRIGHT = 1e-6
"""A tangent whose horizontal part is shorter than this has no side of its own."""


def find_beam_axes(points_m: ArrayLike, before_m: ArrayLike | None, after_m: ArrayLike | None) -> Array:
    """Axes (k, 3, 3) at the joints (k, 3) of a chain, k >= 1, in its direction; rows: along, sideways, normal.

    before_m, after_m : (3,) where the chain comes from and goes to; None: it begins, or ends, with a joint

    * along: the tangent, which bisects the two lines that meet in the joint. On joints spaced evenly along a circle it
      is the circle's.
    * sideways: horizontal, across the tangent. At the first joint to the left of who looks along the chain; then the
      one of the two directions that is nearer to that of the joint before. Where the tangent is upright the side is
      that of the nearest joint whose tangent is not, or y where there is none.
    * normal: along × sideways. It points upwards until the chain has passed the upright.
    """
    points = np.asarray(points_m, float).reshape(-1, 3)
    ends = [np.empty((0, 3)) if end is None else np.asarray(end, float).reshape(1, 3) for end in (before_m, after_m)]
    way = np.diff(np.concatenate([ends[0], points, ends[1]]), axis=0)
    if not len(way):
        way = np.array([[1.0, 0, 0]])
    way = _fill(_normalise(way))
    arriving = way if before_m is not None else np.concatenate([way[:1], way])
    leaving = way[1:] if before_m is not None else way
    if after_m is None:
        leaving = np.concatenate([leaving, way[-1:]])
    along = _normalise(arriving[: len(points)] + leaving[: len(points)])
    # A chain that turns straight back has no bisector.
    along = np.where(np.isnan(along), leaving[: len(points)], along)
    sideways = _find_sides(along)
    return np.stack([along, sideways, np.cross(along, sideways)], axis=1)


def _normalise(vectors: Array) -> Array:
    """Unit vectors (k, 3), not numbers where one has no length."""
    length = np.linalg.norm(vectors, axis=1)
    unit: Array = vectors / np.where(length > 1e-12, length, np.nan)[:, None]
    return unit


def _fill(vectors: Array) -> Array:
    """Vectors (k, 3) with those that are not numbers taken from the nearest that are; x where there are none."""
    known = np.flatnonzero(~np.isnan(vectors[:, 0]))
    if not len(known):
        return np.tile([1.0, 0.0, 0.0], (len(vectors), 1))
    nearest = known[np.abs(np.arange(len(vectors))[:, None] - known).argmin(axis=1)]
    filled: Array = vectors[nearest]
    return filled


def _find_sides(along: Array) -> Array:
    """Horizontal unit vectors (k, 3) across tangents (k, 3)."""
    flat = np.column_stack([-along[:, 1], along[:, 0], np.zeros(len(along))])
    length = np.linalg.norm(flat, axis=1)
    lying = length > UPRIGHT
    if not lying.any():
        flat[:], length[:] = (0, 1, 0), 1.0
    else:
        flat[~lying] = np.nan
        flat, length = _fill(flat), np.where(lying, length, np.nan)
    sides = flat / np.linalg.norm(flat, axis=1)[:, None]
    turned = np.where((sides[1:] * sides[:-1]).sum(axis=1) < 0, -1.0, 1.0)
    sides[1:] *= np.cumprod(turned)[:, None]
    # An upright tangent may be off the vertical by a trace: its side is made square to it.
    sides -= (sides * along).sum(axis=1)[:, None] * along
    return _normalise(sides)


def measure_stations(points_m: ArrayLike) -> Array:
    """Lengths (k,) [m] along a chain from its first joint, over joints (k, 3)."""
    steps = np.linalg.norm(np.diff(np.asarray(points_m, float), axis=0), axis=1)
    stations: Array = np.concatenate([[0.0], np.cumsum(steps)])
    return stations


def resolve_wrenches(wrenches: ArrayLike, axes: ArrayLike) -> tuple[Array, Array]:
    """Forces and moments (k, 3) along axes (k, 3, 3), of wrenches (k, 6) about the joints in world axes."""
    w, R = np.asarray(wrenches, float), np.asarray(axes, float)
    force: Array = (R @ w[:, :3, None])[..., 0]
    moment: Array = (R @ w[:, 3:, None])[..., 0]
    return force, moment
