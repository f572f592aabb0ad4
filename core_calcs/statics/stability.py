"""How near the whole is to tipping over each edge of its support polygon, on level or uneven ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array


@dataclass(frozen=True, eq=False)
class Axes:
    """Lines about which the whole may tip: the edges of its support polygon, each through two contact points in space.

    Under a foot the ground is level, however high it lies: when the body turns about a line a contact point rises or
    sinks by its distance from that line in plan. So the lines about which no contact sinks are the edges of the
    hull as seen from above.

    start_m, end_m : (k, 3) the axis i runs from corner i to the next, the body on its left
    along : (k, 3) unit, from start to end
    inward : (k, 3) unit, horizontal, across the axis towards the body
    upward : (k, 3) unit, across both
    """

    start_m: Array
    end_m: Array
    along: Array
    inward: Array
    upward: Array


@dataclass(frozen=True, eq=False)
class EdgeMargins:
    """Margins per edge of the support polygon; edge i runs from corner i to the next, the last back to the first.

    distance_m : (k,) of the centre's ground point from the edge's line in plan, > 0 inside
        (static stability margin: McGhee & Frank, Math. Biosci. 3 (1968) 331-351)
    tip_angle_rad : (k,) turn about the edge that brings the centre over it, atan(d/h), h across the edge
    energy_J : (k,) work that does so, W (sqrt(d² + h²) - h) cos(slope of the edge), with the sign of d
        (Messuri & Klein, IEEE J. Robotics Autom. 1 (1985) 132-141)
    """

    distance_m: Array
    tip_angle_rad: Array
    energy_J: Array


@dataclass(frozen=True, eq=False)
class ForceAngles:
    """Force-angle measure per axis (Papadopoulos & Rey, IEEE Int. Conf. Robotics Autom. 1996, 3111-3116: from memory).

    angle_rad : (k,) from the net force across the axis to the line from the centre to the axis, > 0 inside
    force_N : (k,) that net force
    distance_m : (k,) of its line from the axis
    """

    angle_rad: Array
    force_N: Array
    distance_m: Array


def find_axes(corners_m: ArrayLike) -> Axes:
    """Axes over a support polygon's corners (k, 3) [m], k >= 3, counter-clockwise as seen from above."""
    start = np.asarray(corners_m, float).reshape(-1, 3)
    end = np.concatenate([start[1:], start[:1]])
    along = end - start
    plan = np.hypot(along[:, 0], along[:, 1])
    length = np.hypot(plan, along[:, 2])
    along /= length[:, None]
    # across, rise: of the axis in plan and upwards, as shares of its length
    across, rise = plan / length, along[:, 2]
    inward, upward = np.zeros((2, *along.shape))
    inward[:, 0], inward[:, 1] = -along[:, 1] / across, along[:, 0] / across
    # along × inward: straight up over a level edge.
    upward[:, 0], upward[:, 1], upward[:, 2] = -rise * inward[:, 1], rise * inward[:, 0], across
    return Axes(start, end, along, inward, upward)


def measure_margins(axes: Axes, centre_m: ArrayLike, weight_N: float) -> EdgeMargins:
    """Margins of a centre of mass (3,) [m] over each axis (k,), at rest.

    The edges are taken as endless lines: outside and beyond a corner the distance to the line is given, which is no
    greater than that to the corner.
    """
    offset = np.asarray(centre_m, float) - axes.start_m
    distance = (offset * axes.inward).sum(axis=1)
    height = (offset * axes.upward).sum(axis=1)
    reach = np.hypot(distance, height)
    # d²/(reach + h) is reach - h without the cancellation of small distances under high centres.
    low = height <= 0
    rise = np.where(low, reach - height, distance**2 / np.where(low, 1.0, reach + height))
    energy = weight_N * axes.upward[:, 2] * np.copysign(rise, distance)
    return EdgeMargins(distance, np.arctan2(distance, height), energy)


def measure_holding(axes: Axes, forces_N: ArrayLike, points_m: ArrayLike) -> Array:
    """Moments (..., k) [N·m] of forces (..., 3) at points (..., 3) about each axis: > 0 holds, < 0 overturns."""
    force = np.asarray(forces_N, float)
    # Seen from a corner: no digits are lost to a site far from the origin.
    start = axes.start_m - axes.start_m[0]
    offset = np.asarray(points_m, float) - axes.start_m[0]
    across = offset @ axes.inward.T - (start * axes.inward).sum(axis=1)
    up = offset @ axes.upward.T - (start * axes.upward).sum(axis=1)
    moments: Array = up * (force @ axes.inward.T) - across * (force @ axes.upward.T)
    return moments


def measure_force_angles(
    axes: Axes, centre_m: ArrayLike, force_N: ArrayLike, moment_Nm: ArrayLike = (0, 0, 0)
) -> ForceAngles:
    """Force-angle measure of a net force (3,) and moment (3,) about the centre of mass (3,), what acts on the body.

    The moment about an axis is replaced by a couple whose force acts at the centre, across the line to the axis. The
    measure is the product angle × force, or angle × distance × force, the least over the axes: zero where the net
    force passes through an axis.
    """
    offset = np.asarray(centre_m, float) - axes.start_m
    across, up = (offset * axes.inward).sum(axis=1), (offset * axes.upward).sum(axis=1)
    couple = axes.along @ np.asarray(moment_Nm, float) / np.maximum(across**2 + up**2, np.finfo(float).tiny)
    # In the plane across the axis: outward (against inward) and down.
    out = -axes.inward @ np.asarray(force_N, float) + up * couple
    down = -axes.upward @ np.asarray(force_N, float) - across * couple
    # From the net force to the line that leads outward by `across` and down by `up`.
    angle = np.arctan2(across * down - up * out, up * down + across * out)
    size = np.hypot(out, down)
    return ForceAngles(angle, size, np.abs(across * down - up * out) / np.where(size > 0, size, 1.0))
