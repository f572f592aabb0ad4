"""Envelopes as bodies in cosine-corrected joint space: how far inside them points lie, of many joints at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..spatial.transforms import Array
from .directions import list_directions

_TINY = 1e-300
_NO_LENGTH = 1e-12
_FAR = 0.6
"""No place of a triangle is farther from all three corners than this share of its longest edge (1/√3 at most)."""


@dataclass(frozen=True, eq=False)
class Body:
    """The surface of one envelope: 512 triangles that neutral sees all of.

    corners : (258, 3) in the order of `list_directions`
    lengths : (3, 2) what its directions are stretched by, backwards and forwards; shares : (258,) how far they reach
    around : (258,) no place of a triangle is farther than this from the nearest of its corners
    """

    corners: Array
    lengths: Array
    shares: Array
    around: Array


def make_body(corners: Array, scale_rad: Array, shares: Array) -> Body:
    """A body of corners (258, 3), the ends of the axes (3, 2) and shares (258,) greater than zero."""
    triangles = list_directions().triangles
    edges = np.linalg.norm(corners[triangles] - corners[np.roll(triangles, -1, axis=1)], axis=2)
    around = np.zeros(len(corners))
    np.maximum.at(around, triangles.ravel(), np.repeat(_FAR * edges.max(axis=1), 3))
    return Body(corners, np.abs(scale_rad), shares, around)


def measure_in_bodies(bodies: Sequence[Body], points: Array) -> list[float]:
    """How far inside its body each point (n, 3) is: to the nearest place of the surface, below zero outside."""
    apart = _measure_apart(bodies, points)
    inside: list[float] = np.where(measure_uses(bodies, points) <= 1, apart, -apart).tolist()
    return inside


def measure_uses(bodies: Sequence[Body], points: Array) -> Array:
    """How much of the way from neutral to the surface each point (n, 3) takes: of its own body, or all of the only one.

    In the cone of a triangle a point is a sum of its corners; the shares' sum says how far out it lies. Stretched back
    the cones are those of the directions, the same for all bodies.
    """
    lengths, shares = (np.stack([getattr(own, name) for own in bodies]) for name in ("lengths", "shares"))
    stretched = np.where(points < 0, lengths[..., 0], lengths[..., 1])
    weights = (points / np.maximum(stretched, _NO_LENGTH)) @ _list_cones()
    weights = weights.reshape(len(points), 3, -1)
    cone = weights.min(axis=1).argmax(axis=1)
    own = weights[np.arange(len(points)), :, cone]
    reach = shares[np.arange(len(bodies))[:, None], list_directions().triangles[cone]]
    uses: Array = (own / reach).sum(axis=1)
    return uses


@cache
def _list_cones() -> Array:
    """(3, 3 · 512) maps of a point to its shares of the first, second and third directions of every triangle."""
    sphere = list_directions()
    cones = np.linalg.inv(np.swapaxes(sphere.directions[sphere.triangles], 1, 2))
    return np.ascontiguousarray(np.moveaxis(cones, 0, 1).reshape(-1, 3).T, float)


def _measure_apart(bodies: Sequence[Body], points: Array) -> Array:
    """(n,) to the nearest place of the surface of each point's own body.

    No nearer than the nearest corner can a triangle be whose corners are all farther off than that and what they have
    around them: the others are measured.
    """
    corners = np.stack([own.corners for own in bodies])
    offsets = points[:, None] - corners
    away = np.sqrt(np.einsum("nvi,nvi->nv", offsets, offsets))
    near = away <= away.min(axis=1)[:, None] + np.stack([own.around for own in bodies])
    first, second, third = list_directions().triangles.T
    body, triangle = np.nonzero(near[:, first] | near[:, second] | near[:, third])
    a, b, c = (np.ascontiguousarray(offsets[body, own[triangle]].T) for own in (first, second, third))
    square = _square_distances(a, b, c)
    apart: Array = np.sqrt(np.minimum.reduceat(square, np.searchsorted(body, np.arange(len(bodies)))))
    return apart


def _square_distances(a: Array, b: Array, c: Array) -> Array:
    """(k,) squares of the distances of places from triangles; a, b, c : (3, k) from each corner to the place."""
    normal = _cross(b - a, c - a)
    over = np.ones(a.shape[1], bool)
    least = np.full(a.shape[1], np.inf)
    for start, end in ((a, b), (b, c), (c, a)):
        way = start - end
        along = np.clip(_dot(start, way) / np.maximum(_dot(way, way), _TINY), 0, 1)
        gap = start - along * way
        least = np.minimum(least, _dot(gap, gap))
        over &= _dot(_cross(normal, way), start) >= 0
    size = _dot(normal, normal)
    height = _dot(normal, a)
    return np.where(over & (size > 0), height * height / np.maximum(size, _TINY), least)


def _dot(a: Array, b: Array) -> Array:
    """(k,) products of vectors (3, k)."""
    product: Array = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    return product


def _cross(a: Array, b: Array) -> Array:
    """(3, k) of vectors (3, k)."""
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])
