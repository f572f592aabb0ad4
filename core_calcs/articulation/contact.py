"""Bone contact of two partners: how deep they run into each other beyond the neutral placement, and its relief."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls
from scipy.spatial import cKDTree

from ..mesh.distance_grid import DistanceGrid
from ..spatial.transforms import Array, apply, invert
from .partner import Partner

_MOST_POINTS = 8000
_BASELINE_S = 0.15
"""Overlap that is there at neutral is forgiven within this distance of where it is (share of s)."""
_RELIEF_STEPS = 16
_SETTLED = 0.02
"""Excess that is let be (share of a grid cell)."""


@dataclass(frozen=True, eq=False)
class _Probe:
    """Points of one partner against the other's distance grid, with the depth that is allowed at each."""

    points: Array
    allowed: Array
    grid: DistanceGrid
    moves: bool


@dataclass(frozen=True, eq=False)
class Contact:
    """Two partners ready to be tried against each other.

    allowance : contact beyond that of the neutral placement that does not count [m]
    slide : greatest translation that may relieve contact [m]
    """

    probes: tuple[_Probe, _Probe]
    allowance: float
    slide: float


@dataclass(frozen=True, eq=False)
class Relief:
    """The outcome of one placement.

    slide : (3,) translation of the child that relieves the contact, in the world [m]
    place : (3,) where it cannot be relieved; None where it can
    """

    slide: Array
    place: Array | None


def prepare_contact(
    parent: Partner, child: Partner, centre: Array, size: float, allowance: float, slide: float
) -> Contact:
    """Choose the points that can ever meet the partner by turning about `centre`, and measure the neutral overlap."""
    parent_points = _reachable(parent, child, centre, slide)
    child_points = _reachable(child, parent, centre, slide)
    depths = -parent.grid.distances(child_points), -child.grid.distances(parent_points)
    overlapping = np.concatenate([child_points[depths[0] > 0], parent_points[depths[1] > 0]])
    overlaps = np.concatenate([depths[0][depths[0] > 0], depths[1][depths[1] > 0]])
    allowed = [_local_baseline(points, overlapping, overlaps, size) for points in (child_points, parent_points)]
    return Contact(
        (_Probe(child_points, allowed[0], parent.grid, True), _Probe(parent_points, allowed[1], child.grid, False)),
        allowance,
        slide,
    )


def relieve_contact(contact: Contact, X_moved: Array) -> Relief:
    """Try the child moved by `X_moved` (4, 4), and push it out where it runs into the parent, by as little as will do.

    Cutting planes: where the child still runs in deepest, it must go out by the excess along the gradient of the
    distance; the slide is the shortest that meets all such demands so far. It grows from step to step, so that the
    first one beyond the greatest slide ends the search.
    """
    X_back = invert(X_moved)
    slide, place = np.zeros(3), np.zeros(3)
    near = [_near_points(contact, probe, X_moved, X_back) for probe in contact.probes]
    directions: list[Array] = []
    demands: list[float] = []
    for _ in range(_RELIEF_STEPS):
        worst = 0.0
        for probe, index in zip(contact.probes, near, strict=True):
            points = probe.points[index]
            there = apply(X_moved, points) + slide if probe.moves else apply(X_back, points - slide)
            excess = -probe.grid.distances(there) - probe.allowed[index] - contact.allowance
            if not len(excess) or excess.max() <= _SETTLED * probe.grid.cell:
                continue
            k = int(excess.argmax())
            gradient = probe.grid.gradients(there[k : k + 1])[0]
            directions.append(gradient if probe.moves else -X_moved[:3, :3] @ gradient)
            demands.append(float(excess[k] + directions[-1] @ slide))
            if excess[k] > worst:
                worst, place = float(excess[k]), there[k] if probe.moves else points[k]
        if worst == 0:
            return Relief(slide, None)
        shortest = _shortest_slide(np.array(directions), np.array(demands))
        if shortest is None or np.linalg.norm(shortest) > contact.slide:
            break
        slide = shortest
    return Relief(slide, place)


def _shortest_slide(directions: Array, demands: Array) -> Array | None:
    """The shortest u (3,) with directions @ u >= demands; None where there is none.

    Least distance programming by non-negative least squares: Lawson & Hanson, Solving Least Squares Problems (1974),
    chapter 23.
    """
    scale = float(np.abs(demands).max())
    E = np.vstack([directions.T, demands / scale])
    target = np.array([0.0, 0.0, 0.0, 1.0])
    weights, _ = nnls(E, target)
    residual = E @ weights - target
    if np.linalg.norm(residual) < 1e-6:
        return None
    slide: Array = -residual[:3] / residual[3] * scale
    return slide


def _near_points(contact: Contact, probe: _Probe, X_moved: Array, X_back: Array) -> NDArray[np.int64]:
    """Points near enough to touch after a slide; all of them where the slide exceeds the grid's band."""
    if contact.slide + probe.grid.cell >= probe.grid.band:
        return np.arange(len(probe.points))
    there = apply(X_moved if probe.moves else X_back, probe.points)
    return np.flatnonzero(probe.grid.lie_within(there, contact.slide))


def _reachable(element: Partner, partner: Partner, centre: Array, slide: float) -> Array:
    """Samples no farther from the centre than the partner reaches, thinned to a bounded number."""
    reach = np.linalg.norm(partner.samples.points - centre, axis=1).max() + slide
    points = element.samples.points
    points = points[np.linalg.norm(points - centre, axis=1) <= reach]
    thinned: Array = points[:: max(1, -(-len(points) // _MOST_POINTS))]
    return thinned


def _local_baseline(points: Array, overlapping: Array, overlaps: Array, size: float) -> Array:
    """For each point the deepest neutral overlap around it [m]."""
    allowed = np.zeros(len(points))
    if len(overlapping):
        near = cKDTree(points).query_ball_point(overlapping, _BASELINE_S * size)
        for index, depth in zip(near, overlaps, strict=True):
            allowed[index] = np.maximum(allowed[index], depth)
    return allowed
