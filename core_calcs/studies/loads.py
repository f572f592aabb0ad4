"""Loads of joints and feet in one pose: from the tree's wrenches and the contacts to named results."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from ..statics.contacts import Contacts
from ..statics.reactions import find_reaction_vertices, solve_springs
from ..statics.site import GRAVITY, Site
from ..statics.wrenches import make_wrenches, move_wrenches, sum_distal, sum_proximal
from .assessment import FootLoad, JointLoad
from .prepared import Branches, Prepared

SAME_SHARE = 1e-12
"""Ranges narrower than this share of the weight are no ranges."""


@dataclass(frozen=True, eq=False)
class Reactions:
    """What the ground does at the contacts.

    forces_N : (m,) upwards, by springs
    corners, vertices_N : (v, 3) the sets of forces between which all others lie (statics.reactions)
    """

    forces_N: Array
    corners: np.ndarray
    vertices_N: Array


@dataclass(frozen=True, eq=False)
class Carried:
    """What passes through the cuts; wrenches about the centre of mass, world axes.

    about_m : (3,) the centre of mass
    size_m : how far the elements' centres reach from it
    distal : (n, 6) at the cut above every body, distal on proximal part, with the reactions by springs where known
    known : (n,) whether the cut's wrench is known
    weights_distal : (n, 6) the same of the weights alone
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
    weights_distal: Array
    between: np.ndarray
    reactions: Reactions | None
    cut_error: float
    residual_N: float | None
    residual_Nm: float | None


def solve_carried(
    prepared: Prepared, centres_m: Array, about_m: Array, contacts: Contacts, margin_m: float | None
) -> Carried:
    """Reactions and the wrench at every cut, for elements' centres (n, 3) and a distance margin of the whole.

    A part without contacts decides its cut alone, be it the distal or the proximal one: no reaction is needed. What
    lies between contacts is known only with the reactions, hence not without a support polygon under the centre.
    """
    branches = prepared.branches
    gravity = np.zeros_like(centres_m)
    gravity[:, 2] = -GRAVITY * prepared.weights.mass_kg
    weight = -float(gravity[:, 2].sum())
    reactions = None
    if margin_m is not None and margin_m >= 0:
        reactions = _solve_reactions(contacts, weight, about_m)
    own = make_wrenches(gravity, centres_m, about_m)
    weights_distal = sum_distal(branches.parents, own)
    if reactions is not None:
        pushes = np.zeros_like(contacts.points_m)
        pushes[:, 2] = reactions.forces_N
        np.add.at(own, contacts.body, make_wrenches(pushes, contacts.points_m, about_m))
    distal = sum_distal(branches.parents, own)
    proximal = sum_proximal(branches.order, branches.end[branches.order], own)

    # Without any contact the feet that are declared tell what lies between supports.
    touch = len(contacts.body) > 0
    beyond = _find_beyond(branches, contacts.body if touch else prepared.contacts.body)
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
    return Carried(about_m, size, weight, contacts, distal, known, weights_distal, between, reactions, error, *residual)


def _solve_reactions(contacts: Contacts, weight_N: float, centre_m: Array) -> Reactions | None:
    """Every foot is equally stiff; its corners share its stiffness."""
    plan = contacts.points_m[:, :2]
    stiffness = 1 / np.bincount(contacts.foot)[contacts.foot]
    forces = solve_springs(plan, stiffness, weight_N, centre_m[:2])
    corners, vertices = find_reaction_vertices(plan, weight_N, centre_m[:2])
    # On the edge to the last digit either may come out as outside.
    return None if forces is None or not len(corners) else Reactions(forces, corners, vertices)


def _find_beyond(branches: Branches, body: np.ndarray) -> np.ndarray:
    """(n, m) whether contacts on bodies (m,) lie beyond the cut above each body."""
    at = branches.start[body]
    beyond: np.ndarray = (at >= branches.start[:, None]) & (at < branches.end[:, None])
    return beyond


def load_joints(prepared: Prepared, motions: Array, carried: Carried) -> tuple[JointLoad, ...]:
    """Loads of all joints for the motions (n, 4, 4) of the elements; joint axes as the parents carry them."""
    X_joint = motions[np.maximum(prepared.branches.parents, 0)] @ prepared.X_WJ
    points = X_joint[:, :3, 3]
    wrenches = move_wrenches(carried.distal, carried.about_m, points)
    R_JW = np.swapaxes(X_joint[:, :3, :3], -1, -2)
    local_force = (R_JW @ wrenches[:, :3, None])[..., 0]
    local_moment = (R_JW @ wrenches[:, 3:, None])[..., 0]
    # Across the long axis y: flexion axis x and floating axis z.
    axial, shear = local_force[:, 1].tolist(), local_force[:, ::2]
    torsion, bending = local_moment[:, 1].tolist(), local_moment[:, ::2]
    ranges = _find_joint_ranges(points, carried)
    loads = []
    for i, (joint, known) in enumerate(zip(prepared.skeleton.joints, carried.known[1:].tolist(), strict=True), start=1):
        wrench: tuple[Array | None, Array | None] = (None, None)
        along: tuple[float | None, Array | None, float | None, Array | None] = (None, None, None, None)
        if known:
            wrench = (wrenches[i, :3], wrenches[i, 3:])
            along = (axial[i], shear[i], torsion[i], bending[i])
        loads.append(JointLoad(joint.child, joint.parent, points[i], *wrench, *along, *ranges.get(i, (None, None))))
    return tuple(loads)


def _find_joint_ranges(points: Array, carried: Carried) -> dict[int, tuple[Array, Array]]:
    """Ranges (2, 3) of force and moment about the joints at points (n, 3), where the reactions may shift."""
    cut = np.flatnonzero(carried.between.any(axis=1))
    if carried.reactions is None or not len(cut):
        return {}
    corners, plan = carried.reactions.corners, carried.contacts.points_m[:, :2] - carried.about_m[:2]
    vertices = np.zeros((len(corners), len(plan)))
    np.put_along_axis(vertices, corners, carried.reactions.vertices_N, axis=1)
    base = move_wrenches(carried.weights_distal[cut], carried.about_m, points[cut])
    arm = points[cut, :2] - carried.about_m[:2]
    # Cuts along one limb have the same contacts beyond them: their sums are taken once.
    sets, which = np.unique(carried.between[cut], axis=0, return_inverse=True)
    sums = [sets @ (vertices * factor).T for factor in (1.0, plan[:, 0], plan[:, 1])]
    reach = float(np.abs(plan).max()) or 1.0
    ranges: dict[int, tuple[Array, Array]] = {}
    for k, (total, x, y) in enumerate(zip(*sums, strict=True)):
        if np.ptp(total) + (np.ptp(x) + np.ptp(y)) / reach <= SAME_SHARE * carried.weight_N:
            continue
        own = np.flatnonzero(which.reshape(-1) == k)
        about_x, about_y = y - arm[own, 1, None] * total, arm[own, 0, None] * total - x
        force, moment = np.zeros((len(own), 2, 3)), np.zeros((len(own), 2, 3))
        for end, pick in enumerate((np.min, np.max)):
            force[:, end, 2] = base[own, 2] + pick(total)
            moment[:, end, 0] = base[own, 3] + pick(about_x, axis=1)
            moment[:, end, 1] = base[own, 4] + pick(about_y, axis=1)
        ranges.update(zip(cut[own].tolist(), zip(force, moment, strict=True), strict=True))
    return ranges


def load_feet(skeleton: Skeleton, contacts: Contacts, carried: Carried, site: Site) -> tuple[FootLoad, ...]:
    """What the ground carries under every foot that the skeleton has; nothing under one that is lifted."""
    loads = []
    for f, foot in enumerate(skeleton.feet):
        own = contacts.foot == f
        points = contacts.points_m[own]
        force, limits, centre = None, None, None
        if carried.reactions is not None:
            pushes = carried.reactions.forces_N[own]
            force = float(pushes.sum())
            shares = (carried.reactions.vertices_N * own[carried.reactions.corners]).sum(axis=1)
            limits = (float(shares.min()), float(shares.max()))
            if force > 0:
                centre = np.array([*(pushes @ points[:, :2] / force), site.ground_m])
        loads.append(FootLoad(foot.name, points, force, limits, centre))
    return tuple(loads)
