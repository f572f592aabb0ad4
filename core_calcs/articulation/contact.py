"""Bone contact of two partners: how deep they run into each other beyond the neutral placement, and its relief."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls
from scipy.spatial import cKDTree

from ..mesh.distance_grid import DistanceGrid, NearNodes, mark_near
from ..spatial.transforms import Array, invert, make_transform
from .partner import Partner

_MOST_POINTS = 8000
_BASELINE_S = 0.15
"""Overlap that is there at neutral is forgiven within this distance of where it is (share of s)."""
_RELIEF_STEPS = 16
_GOAL_STEP_S = 0.005
_LONG_SLIDE_S = 0.15
_CHORD_NOISE = 1e-6
"""What the trace of a rotation leaves open of its angle: the root of its rounding, and more."""
_CUT_OFF = 1e-3
"""Nearer to the end of a grid's band than this share of it, a distance is cut off."""
_PARALLEL = 1e-12
"""Square of the sine below which two directions are one, or each the other's opposite."""
_SETTLED = 0.02
"""Excess that is let be (share of a grid cell)."""


@dataclass(frozen=True, eq=False)
class _Probe:
    """Points of one partner against the other's distance grid, with the depth that is allowed at each.

    chords : (n,) ascending: a point meets the partner only where the child turns by a chord of the unit circle so long
    own : distance grid of the points' own bone; None where the two do not overlap at neutral
    moves : whether the points are the child's
    middle : (3,) of the points; columns : (3, n) the points from there on, a co-ordinate a row: in single precision a
        scan far from the origin would lose its digits
    near : where of the grid a slide may bring them into contact
    """

    points: Array
    allowed: Array
    chords: Array
    grid: DistanceGrid
    own: DistanceGrid | None
    moves: bool
    middle: Array
    columns: NDArray[np.float32]
    near: NearNodes


@dataclass(frozen=True, eq=False)
class Contact:
    """Two partners ready to be tried against each other, the child turning about a point.

    allowance : contact beyond that of the neutral placement that does not count [m]
    goals : allowances that slides are sought for, the greatest first: all steps up to `allowance` [m]
    slide : greatest translation that may relieve contact [m]
    """

    probes: tuple[_Probe, _Probe]
    allowance: float
    goals: tuple[float, ...]
    slide: float


@dataclass(frozen=True, eq=False)
class Depth:
    """How deep the child's points run into the parent, or the parent's into the child, placed somewhere.

    excess : beyond what is there at neutral [m], below or at zero where nothing is deeper
    place : (3,) where it is deepest, in the world; there : (3,) the same in the frame of what is run into
    deep : what the excess makes of the depth [m]; probe, X_moved : whose points, and where the child is
    """

    excess: float
    place: Array
    there: Array
    deep: float
    probe: _Probe
    X_moved: Array

    @cached_property
    def direction(self) -> Array:
        """Unit vector (3,) in the world along which the child gets out of there fastest."""
        out = _find_way_out(self.probe, self.there[None], self.deep)
        return out if self.probe.moves else -self.X_moved[:3, :3] @ out


@dataclass(frozen=True, eq=False)
class _Near:
    """Points (n, 3) of a probe that may touch, what is allowed at each, and the same on the partner's grid (3, n).

    X : (4, 4) to the partner's frame, which the child's turn makes
    """

    points: Array
    allowed: Array
    nodes: Array
    X: Array


@dataclass(frozen=True, eq=False)
class Meeting:
    """The child moved by `X_moved` (4, 4) against its parent, before any slide.

    near : of either probe, the points that may touch after a slide; first : how deep they are
    """

    contact: Contact
    X_moved: Array
    near: tuple[_Near, _Near]
    first: tuple[Depth, Depth]

    @property
    def place(self) -> Array:
        """(3,) where the child runs in deepest, not slid; meaningless where it runs in nowhere."""
        return max(self.first, key=lambda depth: depth.excess).place


def prepare_contact(
    parent: Partner, child: Partner, centre: Array, size: float, allowance: float, slide: float
) -> Contact:
    """Choose the points that can ever meet the partner by turning about `centre`, and measure the neutral overlap."""
    # The same points whatever the slide, unless it is very long: a shorter one must not see other points.
    reach = max(slide, _LONG_SLIDE_S * size)
    parent_points = _reachable(parent, child, centre, reach)
    child_points = _reachable(child, parent, centre, reach)
    depths = -parent.grid.distances(child_points), -child.grid.distances(parent_points)
    overlapping = np.concatenate([child_points[depths[0] > 0], parent_points[depths[1] > 0]])
    overlaps = np.concatenate([depths[0][depths[0] > 0], depths[1][depths[1] > 0]])
    probes = []
    for points, bone, partner in ((child_points, child, parent), (parent_points, parent, child)):
        allowed = _local_baseline(points, overlapping, overlaps, size)
        chords = _find_chords(points, partner, centre, slide)
        order = np.argsort(chords, kind="stable")
        own = bone.grid if len(overlaps) else None
        middle = points.mean(axis=0) if len(points) else centre
        columns = np.ascontiguousarray((points[order] - middle).T, np.float32)
        figures = (points[order], allowed[order], chords[order], partner.grid, own, bone is child)
        probes.append(_Probe(*figures, middle, columns, mark_near(partner.grid, slide)))
    steps = int(np.floor(allowance / (_GOAL_STEP_S * size) + 1e-9))
    goals = tuple(k * _GOAL_STEP_S * size for k in range(steps, -1, -1))
    return Contact((probes[0], probes[1]), allowance, goals, slide)


def _find_chords(points: Array, partner: Partner, centre: Array, slide: float) -> Array:
    """How far the child must turn about `centre` before points (n, 3) can meet the partner: chords of the unit circle.

    A point moves by no more than its distance from the centre times the chord, twice the sine of half the turn, and
    meets the partner only if it lies no farther from it than that and the slide. Samples stand for the partner's
    surface.
    """
    samples = partner.samples
    arms = np.linalg.norm(points - centre, axis=1)
    tree = cKDTree(samples.points, balanced_tree=False, compact_nodes=False)  # asked once: quick to build
    apart = tree.query(points)[0] - slide - 2 * samples.spacing
    chords: Array = np.where(partner.grid.distances(points) <= 0, 0.0, apart / np.maximum(arms, 1e-300))
    return chords


def meet(contact: Contact, X_moved: Array) -> Meeting:
    """The child turned by `X_moved` (4, 4) about the joint's centre."""
    X_back = invert(X_moved)
    # The trace of a rotation is 1 + 2 cos of its angle.
    chord = float(np.sqrt(max(3 - np.trace(X_moved[:3, :3]), 0.0))) + _CHORD_NOISE
    child, parent = contact.probes
    near = _find_near(contact, child, X_moved, chord), _find_near(contact, parent, X_back, chord)
    return Meeting(contact, X_moved, near, _measure_depths(contact, near, X_moved, np.zeros(3)))


def list_slides(meeting: Meeting) -> Iterator[Array]:
    """Translations (3,) of the child, the shortest first, after which the contact does not count; none where it stops.

    A tighter allowance or a shorter slide must never find what a looser one does not. So the slides that are tried
    do not depend on either: cutting planes for every goal up to the allowance, each cut off at the greatest slide, and
    from each whatever comes below the allowance. A distance changes by no more than a point moves, so that contact
    deeper than allowance and slide together ends it at once.
    """
    contact = meeting.contact
    deepest = max(depth.excess for depth in meeting.first)
    tolerance = _SETTLED * contact.probes[0].grid.cell
    if deepest <= contact.allowance + tolerance:
        yield np.zeros(3)
    if deepest > contact.allowance + contact.slide + tolerance:
        return
    for goal in contact.goals:
        yield from _relieve(meeting, goal, tolerance)


def _relieve(meeting: Meeting, goal: float, tolerance: float) -> Iterator[Array]:
    """Slides on the way to where nothing runs in by more than `goal`, those after which contact does not count.

    Cutting planes: where the child still runs in deepest, it must go out by the excess along the gradient of the
    distance; the next slide is the shortest that meets all such demands so far. It grows from step to step, so that the
    first one beyond the greatest slide ends the search.
    """
    contact, depths, slide = meeting.contact, meeting.first, np.zeros(3)
    directions: list[Array] = []
    demands: list[float] = []
    for _ in range(_RELIEF_STEPS):
        too_deep = [depth for depth in depths if depth.excess > goal + tolerance]
        if not too_deep:
            return
        directions += [depth.direction for depth in too_deep]
        demands += [depth.excess - goal + float(depth.direction @ slide) for depth in too_deep]
        shortest = _shortest_slide(np.array(directions), np.array(demands))
        if shortest is None or math.sqrt(shortest @ shortest) > contact.slide:
            return
        slide = shortest
        depths = _measure_depths(contact, meeting.near, meeting.X_moved, slide)
        if max(depth.excess for depth in depths) <= contact.allowance + tolerance:
            yield slide


def _measure_depths(contact: Contact, near: tuple[_Near, _Near], X_moved: Array, slide: Array) -> tuple[Depth, Depth]:
    """How deep the child's points are in the parent, and the parent's in the child, after a slide (3,)."""
    child, parent = contact.probes
    back = -(slide @ X_moved[:3, :3])
    return _measure_depth(child, near[0], X_moved, slide), _measure_depth(parent, near[1], X_moved, back)


def _measure_depth(probe: _Probe, near: _Near, X_moved: Array, shift: Array) -> Depth:
    """shift : (3,) what the slide makes of the points, in the frame of what they run into"""
    excess = _find_excess(probe, near, shift)
    k = int(excess.argmax()) if len(excess) else -1
    if k < 0 or excess[k] <= 0:
        return Depth(0.0, np.zeros(3), np.zeros(3), 0.0, probe, X_moved)
    there = near.X[:3, :3] @ near.points[k] + near.X[:3, 3] + shift
    place = there if probe.moves else near.points[k]
    return Depth(float(excess[k]), place, there, float(excess[k] + near.allowed[k]), probe, X_moved)


def _find_excess(probe: _Probe, near: _Near, shift: Array) -> Array:
    """How much farther points (n,) are inside the partner than at neutral [m].

    The lesser of two: how much deeper than anything was around the same point of their own bone; and how far they are
    from what of the partner their own bone took up. The one is right where a fault of the point's bone made the two
    overlap, the other where it was one of the partner's, or of how the two are placed, and nothing tells which: a ball
    that lies too deep in its socket turns on where it has been. Both change by no more than a point moves.
    """
    nodes = near.nodes + (probe.grid.X_NW[:3, :3] @ shift)[:, None]
    excess: Array = -probe.grid.take_values(nodes) - near.allowed
    if probe.own is not None and len(deep := np.flatnonzero(excess > 0)):
        away = probe.own.distances(near.points[deep] @ near.X[:3, :3].T + (near.X[:3, 3] + shift))
        known = away < (1 - _CUT_OFF) * probe.own.band
        excess[deep[known]] = np.minimum(excess[deep[known]], away[known])
    return excess


def _find_way_out(probe: _Probe, place: Array, depth: float) -> Array:
    """Unit vector (3,) along which a place (1, 3) gets out of the partner, or back to what was taken up of it.

    depth : what its excess makes of it; it is deeper than that where the latter is nearer
    """
    if probe.own is not None and depth < -probe.grid.distances(place)[0] - 1e-9 * probe.grid.cell:
        back: Array = -probe.own.gradients(place)[0]
        return back
    out: Array = probe.grid.gradients(place)[0]
    return out


def _shortest_slide(directions: Array, demands: Array) -> Array | None:
    """The shortest u (3,) with directions @ u >= demands; None where there is none.

    Least distance programming by non-negative least squares: Lawson & Hanson, Solving Least Squares Problems (1974),
    chapter 23.
    """
    if len(demands) <= 2:
        return _slide_for_two(directions, demands)
    scale = float(np.abs(demands).max())
    E = np.vstack([directions.T, demands / scale])
    target = np.array([0.0, 0.0, 0.0, 1.0])
    weights, _ = nnls(E, target)
    residual = E @ weights - target
    if math.sqrt(residual @ residual) < 1e-6:
        return None
    slide: Array = -residual[:3] / residual[3] * scale
    return slide


def _slide_for_two(directions: Array, demands: Array) -> Array | None:
    """The same of one or two demands, as most are, at least one of them above zero: written out."""
    products, (first, *rest) = directions @ directions.T, demands.tolist()
    squares = products.diagonal().tolist()
    for k, demand in enumerate((first, *rest)):
        # One alone, where its slide meets the other as well.
        if demand > 0 and squares[k] > 0:
            share = demand / squares[k]
            if not rest or share * float(products[k, 1 - k]) >= demands[1 - k]:
                alone: Array = share * directions[k]
                return alone
    between = float(products[0, -1])
    left = squares[0] * squares[-1] - between * between
    if not rest or left <= _PARALLEL * squares[0] * squares[1]:
        return None
    shares = (squares[1] * first - between * rest[0]) / left, (squares[0] * rest[0] - between * first) / left
    both: Array = shares[0] * directions[0] + shares[1] * directions[1]
    return both


def _find_near(contact: Contact, probe: _Probe, X: Array, chord: float) -> _Near:
    """Points near enough to touch after a slide; of those that the turn brings there all, where it exceeds the band."""
    count = int(np.searchsorted(probe.chords, chord, side="right"))
    points, allowed = probe.points[:count], probe.allowed[:count]
    if contact.slide + probe.grid.cell < probe.grid.band:
        from_middle = make_transform(X[:3, :3], X[:3, :3] @ probe.middle + X[:3, 3])
        near = probe.near.find(probe.columns[:, :count], from_middle)
        points, allowed = points.take(near, axis=0), allowed.take(near)
    to_nodes = probe.grid.X_NW @ X
    return _Near(points, allowed, to_nodes[:3, :3] @ points.T + to_nodes[:3, 3:], X)


def _reachable(element: Partner, partner: Partner, centre: Array, slide: float) -> Array:
    """Samples, thinned to a bounded number, and crests no farther from the centre than the partner reaches."""
    reach = np.linalg.norm(partner.samples.points - centre, axis=1).max() + slide
    points, crests = (
        some[np.linalg.norm(some - centre, axis=1) <= reach] for some in (element.samples.points, element.crests)
    )
    return np.concatenate([points[:: max(1, -(-len(points) // _MOST_POINTS))], crests])


def _local_baseline(points: Array, overlapping: Array, overlaps: Array, size: float) -> Array:
    """For each point the deepest neutral overlap around it [m]."""
    allowed = np.zeros(len(points))
    if len(overlapping):
        near = cKDTree(points).query_ball_point(overlapping, _BASELINE_S * size)
        for index, depth in zip(near, overlaps, strict=True):
            allowed[index] = np.maximum(allowed[index], depth)
    return allowed
