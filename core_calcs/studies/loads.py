"""Loads of joints and feet in one pose: from the tree's wrenches and the contacts to named results."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..site.site import GRAVITY
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from ..statics.contacts import Contacts
from ..statics.cuts import PointForces, make_weights, sum_on_bodies
from ..statics.ground_reactions import Reactions, solve_reactions
from ..statics.supports import Supports, list_supports
from ..statics.wrenches import make_wrenches, move_wrenches, sum_distal, sum_proximal
from .assessment import FootLoad, JointLoad
from .later_rows import LaterLoads
from .prepared import Branches, Prepared

SAME_SHARE = 1e-12
"""Ranges narrower than this share of the weight are no ranges."""


@dataclass(frozen=True, eq=False)
class Carried:
    """What passes through the cuts; wrenches about the centre of mass, world axes.

    about_m : (3,) the centre of mass
    size_m : how far the elements' centres reach from it
    distal : (n, 6) at the cut above every body, distal on proximal part, with the reactions by springs where known
    known : (n,) whether the cut's wrench is known
    applied_distal : (n, 6) the same of the weights, the actions and what holds these along the ground
    between : (n, m) which contacts lie beyond the cut; all false where none or all of them do
    reactions : None: not known
    cut_error : greatest difference between the two sides of a cut, as a share of weight, and of weight × size
    residual_N, residual_Nm : what is left at the root; None where the reactions are not known
    """

    about_m: Array
    size_m: float
    weight_N: float
    contacts: Contacts
    distal: Array
    known: np.ndarray
    applied_distal: Array
    between: np.ndarray
    reactions: Reactions | None
    cut_error: float
    residual_N: float | None
    residual_Nm: float | None


def solve_carried(
    prepared: Prepared,
    centres_m: Array,
    about_m: Array,
    contacts: Contacts,
    margin_m: float | None,
    idle: Sequence[int] = (),
    actions: PointForces | None = None,
    supports: Supports | None = None,
) -> Carried:
    """Reactions and the wrench at every cut, for elements' centres (n, 3) and a distance margin of the whole.

    actions : what acts besides the weights
    supports : what is under every foot; None: all equally stiff, none anchored

    A part without contacts decides its cut alone, be it the distal or the proximal one: no reaction is needed. What
    lies between contacts is known only with the reactions, hence not without a support polygon under the weights and
    what acts with them.
    """
    branches, count = prepared.branches, len(centres_m)
    weight = GRAVITY * float(prepared.bodies.mass_kg.sum())
    own = sum_on_bodies(count, make_weights(prepared.bodies.mass_kg, centres_m), about_m)
    if actions is not None:
        own = own + sum_on_bodies(count, actions, about_m)
    reactions = None
    supports = supports or list_supports([foot.name for foot in prepared.skeleton.feet])
    stands = margin_m is not None and (margin_m >= 0 or actions is not None)
    if stands or supports.anchored[contacts.foot].any():
        reactions = solve_reactions(contacts, supports, own.sum(axis=0), about_m)
    # Without any contact the feet that might bear tell what lies between supports.
    touch = len(contacts.body) > 0
    bearing = prepared.contacts.body[~np.isin(prepared.contacts.foot, idle)]
    beyond = list_beyond(branches, contacts.body if touch else bearing)
    applied = sum_distal(branches.parents, own)
    distal = applied
    if reactions is not None:
        upwards, along = _list_reactions(contacts, reactions, about_m)
        applied = applied + beyond.astype(float) @ along
        distal = applied + beyond.astype(float) @ upwards
        np.add.at(own, contacts.body, upwards + along)
    proximal = sum_proximal(branches.order, branches.end[branches.order], own)

    ahead = np.logical_and.reduce(beyond, axis=1) & touch
    known = ~beyond.any(axis=1) | ahead | (reactions is not None)
    size = float(np.abs(centres_m - about_m).max()) or 1.0
    error = 0.0
    residual: tuple[float | None, float | None] = (None, None)
    if reactions is None:
        distal = np.where(ahead[:, None], -proximal, distal)
    elif weight > 0:
        error = float((np.abs(distal + proximal)[1:] / (weight * np.array([1, 1, 1, size, size, size]))).max(initial=0))
        residual = (float(np.linalg.norm(distal[0, :3])), float(np.linalg.norm(distal[0, 3:])))
    between = (beyond & ~ahead[:, None])[:, : len(contacts.body)]
    return Carried(about_m, size, weight, contacts, distal, known, applied, between, reactions, error, *residual)


def _list_reactions(contacts: Contacts, reactions: Reactions, about_m: Array) -> tuple[Array, Array]:
    """Wrenches (m, 6) of the upward reactions and of those along the ground, about a point."""
    upwards, along = np.zeros((2, *contacts.points_m.shape))
    upwards[:, 2], along[:, :2] = reactions.forces_N, reactions.horizontal_N
    points = contacts.on_ground_m
    return make_wrenches(upwards, points, about_m), make_wrenches(along, points, about_m)


def list_beyond(branches: Branches, body: np.ndarray) -> np.ndarray:
    """(n, m) whether contacts on bodies (m,) lie beyond the cut above each body."""
    at = branches.start[body]
    beyond: np.ndarray = (at >= branches.start[:, None]) & (at < branches.end[:, None])
    return beyond


def place_joints(prepared: Prepared, motions: Array) -> Array:
    """(n, 4, 4) joint frames as the parents carry them, for motions (n, 4, 4); the root's as the root does."""
    X: Array = motions[np.maximum(prepared.branches.parents, 0)] @ prepared.X_WJ
    return X


def load_joints(prepared: Prepared, motions: Array, carried: Carried) -> LaterLoads:
    """Loads of all joints for the motions (n, 4, 4) of the elements; joint axes as the parents carry them."""
    X_joint = place_joints(prepared, motions)
    wrenches = move_wrenches(carried.distal, carried.about_m, X_joint[:, :3, 3])
    moments = np.where(carried.known[:, None], wrenches[:, 3:], np.nan)[1:]  # the root hangs on nothing
    joints = prepared.skeleton.joints
    return LaterLoads(joints, moments, lambda: _list_loads(prepared, X_joint, wrenches, carried))


def _list_loads(prepared: Prepared, X_joint: Array, wrenches: Array, carried: Carried) -> tuple[JointLoad, ...]:
    points = X_joint[:, :3, 3]
    R_JW = np.swapaxes(X_joint[:, :3, :3], -1, -2)
    local_force = (R_JW @ wrenches[:, :3, None])[..., 0]
    local_moment = (R_JW @ wrenches[:, 3:, None])[..., 0]
    # Across the long axis y: flexion axis x and floating axis z.
    axial, shear = local_force[:, 1].tolist(), local_force[:, ::2]
    torsion, bending = local_moment[:, 1].tolist(), local_moment[:, ::2]
    ranges = _find_joint_ranges(points, carried)
    figures = zip(wrenches[:, :3], wrenches[:, 3:], axial, shear, torsion, bending, strict=True)
    unknown = (None,) * 6
    none = (None, None)
    cuts = enumerate(zip(points, carried.known.tolist(), figures, strict=True))
    next(cuts)
    return tuple(
        JointLoad(joint.child, joint.parent, point, *(own if known else unknown), *ranges.get(i, none))
        for joint, (i, (point, known, own)) in zip(prepared.skeleton.joints, cuts, strict=True)
    )


def _find_joint_ranges(points: Array, carried: Carried) -> dict[int, tuple[Array, Array]]:
    """Ranges (2, 3) of force and moment about the joints at points (n, 3), where the reactions may shift."""
    if carried.reactions is None or not carried.reactions.determinate:
        return {}
    arm = points[:, :2] - carried.about_m[:2]
    # Moments about x and y of a force up: linear in each cut's arm.
    figures = np.zeros((len(points), 2, 3))
    figures[:, 0, 0], figures[:, 0, 2] = -arm[:, 1], 1
    figures[:, 1, 0], figures[:, 1, 1] = arm[:, 0], -1
    force, moment = np.zeros((2, len(points), 2, 3))
    shifting: list[int] = []
    for own, sums, least, most in _sum_shared(carried, carried.reactions):
        moments = figures[own].reshape(-1, 3) @ sums
        force[own, 0, 2], force[own, 1, 2] = least, most
        moment[own, 0, :2] = moments.min(axis=1).reshape(-1, 2)
        moment[own, 1, :2] = moments.max(axis=1).reshape(-1, 2)
        shifting += own
    base = move_wrenches(carried.applied_distal, carried.about_m, points)
    force[:, :, 2] += base[:, None, 2]
    moment[:, :, :2] += base[:, None, 3:5]
    return {i: (force[i], moment[i]) for i in shifting}


def _sum_shared(carried: Carried, reactions: Reactions) -> Iterator[tuple[list[int], Array, float, float]]:
    """Cuts with the same contacts beyond them, where the reactions may shift, and their sums at every vertex.

    Cuts along one limb share them: the sums (3, v) of the forces and of the forces times x and y, from the centre of
    mass, and the least and greatest sum of the forces.
    """
    cuts: dict[bytes, list[int]] = {}
    for i in np.flatnonzero(carried.between.any(axis=1)).tolist():
        cuts.setdefault(carried.between[i].tobytes(), []).append(i)
    plan = carried.contacts.points_m[:, :2] - carried.about_m[:2]
    reach = float(np.abs(plan).max(initial=0.0)) or 1.0
    vertices = np.zeros((len(reactions.corners), len(plan)))
    np.put_along_axis(vertices, reactions.corners, reactions.vertices_N, axis=1)
    sets = carried.between[[own[0] for own in cuts.values()]].astype(float)
    factors = np.column_stack([np.ones(len(plan)), plan])
    sums = ((sets[:, None, :] * factors.T).reshape(-1, len(plan)) @ vertices.T).reshape(len(sets), 3, len(vertices))
    least, most = sums.min(axis=2), sums.max(axis=2)
    shifts = (most - least) @ np.array([1, 1 / reach, 1 / reach]) > SAME_SHARE * carried.weight_N
    for k, own in enumerate(cuts.values()):
        if shifts[k]:
            yield own, sums[k], least[k, 0], most[k, 0]


def load_feet(
    skeleton: Skeleton, contacts: Contacts, carried: Carried, idle: Sequence[int] = ()
) -> tuple[FootLoad, ...]:
    """What the ground carries under every foot that the skeleton has; nothing under one that is lifted."""
    loads = []
    for f, foot in enumerate(skeleton.feet):
        own = contacts.foot == f
        points = contacts.points_m[own]
        force, limits, centre = None, None, None
        if carried.reactions is not None:
            pushes = carried.reactions.forces_N[own]
            force = float(pushes.sum())
            if carried.reactions.determinate:
                shares = (carried.reactions.vertices_N * own[carried.reactions.corners]).sum(axis=1)
                limits = (float(shares.min()), float(shares.max()))
            if force > 0 and (pushes >= 0).all():
                centre = np.array([*(pushes @ points[:, :2] / force), contacts.ground_m[own][0]])
        loads.append(FootLoad(foot.name, f not in idle, points, force, limits, centre))
    return tuple(loads)
