"""One joint turned after the other: what self-weight does to joints and feet, and the margins, without a whole study.

The figures are those of `assess_prepared`. A pose is studied as a whole once, then carried along: a joint that turns
moves its branch alone; contacts and support polygon are kept while nothing in the branch touches, or may touch, the
ground. A new value comes of every change; the one before stays as it was.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from ..site.site import GRAVITY, Site
from ..skeleton.kinematics import move_elements
from ..skeleton.pose import Pose
from ..spatial.rotations import joint_rotation
from ..spatial.transforms import Array
from ..statics.contacts import Contacts, find_corners, take_corners
from ..statics.polygon import find_outline
from ..statics.posed_tree import PosedTree, TreeShape, pose_tree, shape_tree, turn_branch
from ..statics.reactions import solve_springs, solve_springs_in_touch
from ..statics.stability import Axes, EdgeMargins, find_axes, measure_margins
from ..statics.supports import Supports, share_stiffness
from .assess import find_supports
from .prepared import Prepared

REFRESH = 500
"""Changes after which the pose is studied as a whole again, so that rounding does not add up."""

_NEUTRAL = np.zeros(3)
_STILL = np.eye(4)
_SQUARE = 1.5 * np.eye(3)


@dataclass(frozen=True, eq=False)
class _Fixed:
    """What no pose changes; rows of bodies in preorder.

    rows : (n,) row of each element; touching : (c,) row of the body of each point that may touch, ascending; points :
    which of the skeleton's points these are
    parents, seconds : rows of the two that every straddling element follows
    """

    shape: TreeShape
    rows: np.ndarray
    points: np.ndarray
    touching: np.ndarray
    parents: np.ndarray
    seconds: np.ndarray
    supports: Supports


@dataclass(frozen=True, eq=False)
class _Ground:
    """What stands, seen from the tree's origin: the contacts, which points these are by foot, which are corners of the
    support polygon, its axes, how stiff each is, and (n, m) which lie beyond the cut above each body (row)."""

    contacts: Contacts
    by_foot: dict[int, np.ndarray]
    corners: np.ndarray
    axes: Axes | None
    stiffness: Array
    beyond: Array


@dataclass(frozen=True, eq=False)
class SelfWeight:
    """Self-weight in one pose.

    joints : the skeleton's joints in its order: points (n - 1, 3), forces and moments (n - 1, 3) of the distal on the
        proximal part, world axes; not numbers where they are not known
    contacts_m, contacts_N : (m, 3) corners of the standing feet, (m,) what the ground carries there, by springs; None:
        not known
    feet_N : (f,) the same of every foot
    margins : of the edges of the support polygon; None where it stands on none
    """

    mass_kg: float
    centre_m: Array
    joints_m: Array
    forces_N: Array
    moments_Nm: Array
    contacts_m: Array
    contacts_N: Array | None
    feet_N: Array | None
    support_polygon_m: Array
    margins: EdgeMargins | None


@dataclass(frozen=True, eq=False)
class Posed:
    """A prepared skeleton in a pose on a site, with what its weight does, ready to have a joint turned."""

    prepared: Prepared
    pose: Pose
    site: Site
    self_weight: SelfWeight
    _fixed: _Fixed
    _tree: PosedTree
    _origin_m: Array
    _level: Site
    _points_m: Array
    _ground: _Ground
    _changes: int


def take_pose(prepared: Prepared, pose: Pose, site: Site) -> Posed:
    """The pose studied as a whole.

    Raises
    ------
    SkeletonError : it turns what cannot turn
    """
    return _take(prepared, pose, site, _fix(prepared, site))


def turn_joint(posed: Posed, child: str, angles_rad: Array) -> Posed:
    """The same with the joint of a child at other angles (3,): flexion, lateral, axial.

    Raises
    ------
    SkeletonError : the joint is not there or fixed, an angle is not finite, or the pose holds places as mounted
    """
    prepared, fixed = posed.prepared, posed._fixed
    angles = np.asarray(angles_rad, float)
    pose = replace(posed.pose, angles_rad={**posed.pose.angles_rad, child: angles})
    mover = prepared.movers.rows.get(child)
    if not mover or angles.shape != (3,) or not np.isfinite(angles).all() or pose.mounted:
        return _take(prepared, pose, posed.site, fixed)
    row = int(fixed.rows[prepared.movers.elements[mover]])
    end = int(fixed.shape.ends[row])
    if posed._changes >= REFRESH or _is_straddled(fixed, row, end):
        return _take(prepared, pose, posed.site, fixed)
    motion = _find_turn(posed, mover, row, posed.pose.angles_rad.get(child, _NEUTRAL), angles)
    tree = turn_branch(fixed.shape, posed._tree, row, motion)
    ground, points = posed._ground, posed._points_m
    first, last = np.searchsorted(fixed.touching, (row, end)).tolist()
    if first < last:
        points = points.copy()
        points[first:last] = points[first:last] @ motion[:3, :3].T + motion[:3, 3]
        moved = set(prepared.contacts.foot[fixed.points[first:last]].tolist())
        ground = _find_ground(prepared, pose, posed._level, fixed, points, moved, ground)
    weight = _find_self_weight(prepared, fixed, tree, ground, posed._origin_m)
    changes = posed._changes + 1
    return Posed(
        prepared, pose, posed.site, weight, fixed, tree, posed._origin_m, posed._level, points, ground, changes
    )


def _fix(prepared: Prepared, site: Site) -> _Fixed:
    branches, movers = prepared.branches, prepared.movers
    rows = branches.start
    above = branches.parents[branches.order]
    parents = np.where(above >= 0, rows[above], -1)
    shape = shape_tree(parents, branches.end[branches.order], prepared.bodies.mass_kg[branches.order])
    touching = rows[prepared.contacts.body]
    points = np.argsort(touching, kind="stable")
    both = np.flatnonzero(movers.seconds >= 0)
    followed = [rows[movers.elements[on[both]]] for on in (movers.parents, movers.seconds)]
    supports = find_supports(prepared, site)
    return _Fixed(shape, rows, points, touching[points], followed[0], followed[1], supports)


def _is_straddled(fixed: _Fixed, row: int, end: int) -> bool:
    """Whether an element follows two of which one is in the branch and one is not: it moves by a motion of its own."""
    if not len(fixed.parents):
        return False
    inside = [(rows >= row) & (rows < end) for rows in (fixed.parents, fixed.seconds)]
    return bool((inside[0] != inside[1]).any())


def _take(prepared: Prepared, pose: Pose, site: Site, fixed: _Fixed) -> Posed:
    motions = move_elements(prepared.skeleton, prepared.movers, pose)
    bodies, order = prepared.bodies, prepared.branches.order
    centres = (motions[:, :3, :3] @ bodies.centre_m[:, :, None])[:, :, 0] + motions[:, :3, 3]
    # Seen from the middle: no digits are lost to a site far from the origin.
    origin = centres.mean(axis=0)
    joints = (motions[np.maximum(prepared.branches.parents, 0)] @ prepared.X_WJ)[:, :3, 3] - origin
    near = motions.copy()
    near[:, :3, 3] -= origin
    first = bodies.mass_kg[:, None] * (centres - origin)
    tree = pose_tree(fixed.shape, near[order], joints[order], first[order])
    own = near[prepared.contacts.body[fixed.points]]
    points = (own[:, :3, :3] @ prepared.contacts.points_m[fixed.points, :, None])[:, :, 0] + own[:, :3, 3]
    level = replace(site, ground_m=site.ground_m - float(origin[2]))
    ground = _find_ground(prepared, pose, level, fixed, points)
    weight = _find_self_weight(prepared, fixed, tree, ground, origin)
    return Posed(prepared, pose, site, weight, fixed, tree, origin, level, points, ground, 0)


def _find_turn(posed: Posed, mover: int, row: int, before: Array, after: Array) -> Array:
    """(4, 4) the motion of a branch whose joint goes from some angles to others, seen from the tree's origin."""
    senses = posed.prepared.movers.senses[mover]
    turned = joint_rotation(after, senses) @ joint_rotation(before, senses).T
    parent = int(posed._fixed.shape.parents[row])
    X_joint = posed._tree.read_motion(parent) @ posed.prepared.movers.X_WJ[mover]
    R_WJ, centre = X_joint[:3, :3], posed._tree.joints_m[row]
    # Made square to the last digit, a step of Newton for the polar factor: what it is off would grow from turn to turn.
    R_WJ = R_WJ @ (_SQUARE - 0.5 * R_WJ.T @ R_WJ)
    turn = R_WJ @ turned @ R_WJ.T
    motion: Array = _STILL.copy()
    motion[:3, :3], motion[:3, 3] = turn, centre - turn @ centre
    return motion


def _find_ground(
    prepared: Prepared,
    pose: Pose,
    level: Site,
    fixed: _Fixed,
    points: Array,
    moved: Collection[int] = (),
    before: _Ground | None = None,
) -> _Ground:
    """What of the points (c, 3), seen from the origin as the level site is, stands; of what stood before it is known
    but for the feet that have moved."""
    idle = tuple(prepared.skeleton.foot_index(name) for name in pose.idle_feet)
    unsorted = np.empty_like(points)
    unsorted[fixed.points] = points
    may, heights = prepared.contacts, fixed.supports.height_m
    still = {foot: own for foot, own in before.by_foot.items() if foot not in moved} if before else {}
    by_foot = find_corners(unsorted, may.foot, level, idle, heights, still)
    contacts = take_corners(unsorted, may.foot, may.body, level, by_foot, heights)
    corners = find_outline(contacts.points_m[:, :2])
    axes = find_axes(contacts.on_ground_m[corners]) if len(corners) >= 3 else None
    if before and _are_same_points(contacts, before.contacts):
        return _Ground(contacts, by_foot, corners, axes, before.stiffness, before.beyond)
    # Without any contact the feet that might bear tell what lies between supports.
    bodies = contacts.body
    if not len(bodies):
        bodies = np.unique(prepared.contacts.body[~np.isin(prepared.contacts.foot, idle)])
    at = fixed.rows[bodies]
    start = np.arange(len(fixed.rows))[:, None]
    beyond = ((at >= start) & (at < fixed.shape.ends[:, None])).astype(float)
    stiffness = share_stiffness(fixed.supports, contacts.foot)
    return _Ground(contacts, by_foot, corners, axes, stiffness, beyond)


def _are_same_points(one: Contacts, other: Contacts) -> bool:
    """Whether the contacts are of the same feet and bodies, one by one, wherever they are."""
    return one.foot.tobytes() == other.foot.tobytes() and one.body.tobytes() == other.body.tobytes()


def _find_self_weight(prepared: Prepared, fixed: _Fixed, tree: PosedTree, ground: _Ground, origin: Array) -> SelfWeight:
    mass = float(fixed.shape.mass_kg[0])
    centre = tree.moments_kg_m[0] / mass if mass > 0 else tree.joints_m[0]
    margins = None if ground.axes is None else measure_margins(ground.axes, centre, GRAVITY * mass)
    pushes = None
    held = fixed.supports.anchored[ground.contacts.foot]
    if held.any() or (margins is not None and margins.distance_m.min() >= 0):
        pushes = _solve_feet(ground, held, GRAVITY * mass, centre)
    forces, moments = _cut_all(fixed, tree, ground, pushes)
    own = fixed.rows[1:]
    foot, feet = ground.contacts.foot, len(prepared.skeleton.feet)
    on_feet = None if pushes is None else np.bincount(foot, pushes, feet).astype(float)
    contacts = ground.contacts.points_m + origin
    return SelfWeight(
        mass,
        centre + origin,
        tree.joints_m[own] + origin,
        forces[own],
        moments[own],
        contacts,
        pushes,
        on_feet,
        contacts[ground.corners, :2],
        margins,
    )


def _solve_feet(ground: _Ground, held: np.ndarray, weight_N: float, centre_m: Array) -> Array | None:
    plan = ground.contacts.points_m[:, :2]
    found = solve_springs_in_touch(plan, ground.stiffness, weight_N, centre_m[:2])
    return solve_springs(plan, ground.stiffness, weight_N, centre_m[:2], held) if found is None else found


def _cut_all(fixed: _Fixed, tree: PosedTree, ground: _Ground, pushes: Array | None) -> tuple[Array, Array]:
    """Forces and moments (n, 3) at the joints above all bodies: vertical forces alone act, up by F at a moment F x, F y
    from the origin."""
    up = np.empty((len(fixed.rows), 3))
    up[:, 0] = fixed.shape.mass_kg
    up[:, 1:] = tree.moments_kg_m[:, :2]
    up *= -GRAVITY
    if pushes is not None:
        plan = ground.contacts.points_m[:, :2]
        up += ground.beyond @ (pushes[:, None] * np.column_stack([np.ones(len(plan)), plan]))
    else:
        # With every contact beyond the cut the rest decides: its weights hang on the distal part.
        ahead = np.logical_and.reduce(ground.beyond, axis=1) & (len(ground.contacts.body) > 0)
        up = np.where(ahead[:, None], up - up[0], up)
        up[~ahead & np.logical_or.reduce(ground.beyond, axis=1)] = np.nan
    forces, moments = np.zeros((2, *up.shape))
    forces[:, 2] = up[:, 0]
    at = tree.joints_m
    moments[:, 0] = up[:, 2] - at[:, 1] * up[:, 0]
    moments[:, 1] = at[:, 0] * up[:, 0] - up[:, 1]
    if pushes is None:
        unknown = np.isnan(up[:, 0])
        forces[unknown], moments[unknown] = np.nan, np.nan
    return forces, moments
