"""A pivot: a peg of one element stands in a ring of the other and turns in it, as the axis's dens does in the atlas.

Found by the surfaces alone: of the tailward element, what the headward one surrounds. Lengths are shares of s, the size
of the smaller of the two elements.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.joint import FrameUncertainty
from ..spatial.transforms import Array
from .column import ColumnAxes
from .facing import find_facing
from .fits import root_mean_square, split_cylindrical
from .frame_uncertainty import cut_sectors, leave_out
from .partner import Partner
from .patches import Index, open_patch, split_patches

_RING_S, _STEP_S = 0.8, 0.04
"""So far to the left, to the right and ventrally the ring is looked for; in such steps."""
_LEAST_S2 = 0.05
_SLENDER = 1.2
"""A peg's sides are at least so many times longer along the axis than it is thick to one side."""
_SIDES = 0.6
"""Sine of how far a side's normal leans along the axis at most: what leans more is the peg's tip or its root."""
_ROUNDS = 10
_BESIDE = 1.5
"""Of the peg's radius: what lies nearer to its axis faces the peg, or is it."""
_LIKE_GAP_S, _OPENING_S, _LEAST_SHOULDER_S2 = 0.10, 0.04, 0.02
_ROUND = 0.2
"""Root mean square distance of the sides from a cone, as a share of its mean radius."""


@dataclass(frozen=True, eq=False)
class Peg:
    """The peg of a pivot.

    place : (3,) a point on its axis; axis : (3,) unit, towards the head
    radius, residual : mean of the cone fitted to its sides; root mean square distance of these from it [m]
    index : its samples
    """

    element: Partner
    place: Array
    axis: Array
    radius: float
    residual: float
    index: Index


def find_peg(headward: Partner, tailward: Partner, axes: ColumnAxes) -> Peg | None:
    """The peg of the tailward element that stands in a ring of the headward one; None where there is none.

    A sample is in the ring where the headward element lies to its left, to its right and ventrally of it.
    """
    size = min(headward.size, tailward.size)
    samples = tailward.samples
    within = np.flatnonzero(_stand_in(headward, samples.points, axes, size))
    pieces = split_patches(samples, within)
    if not pieces or len(pieces[0]) * samples.area_m2 < _LEAST_S2 * size**2:
        return None
    return _fit_peg(tailward, pieces[0], axes)


def find_shoulders(peg: Peg, element: Partner, partner: Partner, axes: ColumnAxes) -> tuple[Index, Index] | None:
    """Where an element faces its partner beside the peg, left and right; None where it does not on both sides."""
    size, samples = min(element.size, partner.size), element.samples
    facing = find_facing(element, partner, size, np.zeros(3))
    if not len(facing.index):
        return None
    near = facing.gap_m <= max(float(np.percentile(facing.gap_m, 10)), 0.0) + _LIKE_GAP_S * size
    points = samples.points[facing.index]
    beside = split_cylindrical(points, peg.axis, peg.place)[1] > _BESIDE * peg.radius
    found = []
    for side in (1, -1):
        here = facing.index[near & beside & ((points - peg.place) @ axes.left * side > 0)]
        pieces = split_patches(samples, open_patch(samples, here, _OPENING_S * size))
        if not pieces or len(pieces[0]) * samples.area_m2 < _LEAST_SHOULDER_S2 * size**2:
            return None
        found.append(np.sort(pieces[0]))
    return found[0], found[1]


def find_peg_uncertainty(peg: Peg) -> FrameUncertainty:
    """How far its axis may be believed: the cone fitted with each sixth of it left out."""
    samples = peg.element.samples
    sectors = cut_sectors(samples.points[peg.index], peg.place, peg.axis)

    def find_axis(index: Index) -> Array:
        return _fit_axis(samples.points[index], samples.normals[index], peg.axis)[0]

    def find_place(index: Index) -> Array:
        axis, place, _ = _fit_axis(samples.points[index], samples.normals[index], peg.axis)
        level: Array = place + axis * float((peg.place - place) @ peg.axis) / float(axis @ peg.axis)
        return level

    rests_on = f"the sides of the peg of {peg.element.name}, fitted with each sixth left out; the height of the facets"
    return FrameUncertainty(
        leave_out(peg.index, sectors, find_place), leave_out(peg.index, sectors, find_axis), rests_on
    )


def _stand_in(ring: Partner, points: Array, axes: ColumnAxes, size: float) -> Array:
    """Whether the ring lies on three sides of each of the points (n, 3)."""
    steps = np.arange(_STEP_S, _RING_S, _STEP_S) * size
    inside = np.ones(len(points), bool)
    for direction in (axes.left, -axes.left, -axes.back):
        rays = points[inside][:, None] + direction * steps[None, :, None]
        met = (ring.grid.distances(rays.reshape(-1, 3)).reshape(-1, len(steps)) <= 0).any(axis=1)
        inside[np.flatnonzero(inside)[~met]] = False
    return inside


def _fit_peg(element: Partner, index: Index, axes: ColumnAxes) -> Peg | None:
    points = element.samples.points[index]
    axis, place, sides = _fit_axis(points, element.samples.normals[index], axes.head)
    height, away, _ = split_cylindrical(points[sides], axis, place)
    radius = float(away.mean())
    taper = np.polyfit(height, away, 1)
    residual = root_mean_square(away - np.polyval(taper, height))
    slender = float(np.ptp(height)) >= _SLENDER * radius
    if not slender or residual > _ROUND * radius or axis @ axes.head < 0.5:
        return None
    return Peg(element, place, axis, radius, residual, index)


def _fit_axis(points: Array, normals: Array, head: Array) -> tuple[Array, Array, Array]:
    """A cone fitted to the sides: its axis is what their normals have least of, its middle by least squares.

    Returns
    -------
    axis (3,), unit, the way of `head` (3,); a point on it (3,); which of the points (n,) are sides
    """
    sides = np.ones(len(points), bool)
    axis = head
    for _ in range(_ROUNDS):
        axis = np.linalg.eigh(normals[sides].T @ normals[sides])[1][:, 0]
        axis = axis * np.sign(axis @ head)
        again = np.abs(normals @ axis) < _SIDES
        if not again.sum() > 0.3 * len(points) or (again == sides).all():
            break
        sides = again
    across = np.linalg.svd(np.eye(3) - np.outer(axis, axis))[0][:, :2]
    flat = points[sides] @ across
    solution = np.linalg.lstsq(np.column_stack([2 * flat, np.ones(len(flat))]), (flat**2).sum(axis=1), rcond=None)[0]
    place = across @ solution[:2] + axis * float((points[sides] @ axis).mean())
    return axis, place, sides
