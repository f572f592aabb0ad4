"""Loads of joints and feet in one pose: from the tree's wrenches and the contacts to named results."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from ..statics.contacts import Contacts
from ..statics.reactions import find_reaction_vertices, solve_springs
from ..statics.site import Site
from ..statics.wrenches import make_wrenches, move_wrenches, sum_distal, sum_proximal
from .assessment import FootLoad, JointLoad

SAME_SHARE = 1e-12
"""Ranges narrower than this share of the weight are no ranges."""


@dataclass(frozen=True, eq=False)
class Carried:
    """What acts on the bodies and passes through the cuts; wrenches about the centre of mass, world axes.

    about_m : (3,) the centre of mass
    distal : (n, 6) at the cut above every body, distal on proximal part, with the reactions by springs where known
    known : (n,) whether the cut's wrench is known
    weights_distal : (n, 6) the same of the weights alone
    between : (n, m) which contacts lie beyond the cut; all false where none or all of them do
    reactions_N : (m,) upwards at the contacts, by springs; None: not known
    corners, vertices_N : (v, 3) the sets of reactions between which all others lie (see statics.reactions)
    cut_error : greatest difference between the two sides of a cut, as a share of weight, and of weight × size
    residual_N, residual_Nm : what is left at the root; None where the reactions are not known
    """

    about_m: Array
    weight_N: float
    contacts: Contacts
    distal: Array
    known: np.ndarray
    weights_distal: Array
    between: np.ndarray
    reactions_N: Array | None
    corners: np.ndarray
    vertices_N: Array
    cut_error: float
    residual_N: float | None
    residual_Nm: float | None


def solve_carried(
    parents: np.ndarray,
    order: np.ndarray,
    ends: np.ndarray,
    gravity_N: Array,
    centres_m: Array,
    about_m: Array,
    contacts: Contacts,
    margin_m: float | None,
    contact_body: np.ndarray,
) -> Carried:
    """Reactions and the wrench at every cut.

    A part without contacts decides its cut alone, be it the distal or the proximal one: no reaction is needed. What
    lies between contacts is known only with the reactions, hence not without a support polygon under the centre.
    """
    plan = contacts.points_m[:, :2]
    weight = -float(gravity_N[:, 2].sum())
    reactions = None
    corners, vertices = np.zeros((0, 3), int), np.zeros((0, 3))
    if margin_m is not None and margin_m >= 0:
        # Every foot is equally stiff, shared among its corners.
        per_foot = np.bincount(contacts.foot)
        reactions = solve_springs(plan, 1 / per_foot[contacts.foot], weight, about_m[:2])
    if reactions is not None:
        corners, vertices = find_reaction_vertices(plan, weight, about_m[:2])

    own = make_wrenches(gravity_N, centres_m, about_m)
    weights_distal = sum_distal(parents, own)
    if reactions is not None:
        pushes = np.zeros((len(plan), 3))
        pushes[:, 2] = reactions
        np.add.at(own, contacts.body, make_wrenches(pushes, contacts.points_m, about_m))
    distal, proximal = sum_distal(parents, own), sum_proximal(order, ends, own)

    place = np.empty(len(parents), int)
    place[order] = np.arange(len(parents))
    end = np.empty(len(parents), int)
    end[order] = ends
    # Without any contact the feet that are declared decide what lies between supports.
    at = place[contacts.body if len(plan) else contact_body]
    beyond = (at >= place[:, None]) & (at < end[:, None])
    all_beyond = beyond.all(axis=1) if len(at) else np.zeros(len(parents), bool)
    known = ~beyond.any(axis=1) | (all_beyond & (len(plan) > 0)) | (reactions is not None)
    if reactions is None:
        distal = np.where((all_beyond & known)[:, None], -proximal, distal)
    between = beyond & ~all_beyond[:, None] if len(plan) else np.zeros((len(parents), 0), bool)
    size = float(np.abs(centres_m - about_m).max()) or 1.0
    error, left = 0.0, None
    if reactions is not None and weight > 0:
        error = float((np.abs(distal + proximal)[1:] / (weight * np.array([1, 1, 1, size, size, size]))).max(initial=0))
        left = np.linalg.norm(distal[0].reshape(2, 3), axis=1).tolist()
    return Carried(
        about_m,
        weight,
        contacts,
        distal,
        known,
        weights_distal,
        between,
        reactions,
        corners,
        vertices,
        error,
        left[0] if left else None,
        left[1] if left else None,
    )


def load_joints(skeleton: Skeleton, X_joint: Array, carried: Carried) -> tuple[JointLoad, ...]:
    """Loads of all joints; X_joint (n, 4, 4) joint frames as the parents carry them in the pose."""
    points = X_joint[:, :3, 3]
    wrenches = move_wrenches(carried.distal, carried.about_m, points)
    R_JW = np.swapaxes(X_joint[:, :3, :3], -1, -2)
    local_force = (R_JW @ wrenches[:, :3, None])[..., 0]
    local_moment = (R_JW @ wrenches[:, 3:, None])[..., 0]
    ranges = _find_joint_ranges(points, carried)
    loads = []
    for i, joint in enumerate(skeleton.joints, start=1):
        if not carried.known[i]:
            loads.append(
                JointLoad(joint.child, joint.parent, points[i], None, None, None, None, None, None, None, None)
            )
            continue
        force, moment = local_force[i], local_moment[i]
        loads.append(
            JointLoad(
                child=joint.child,
                parent=joint.parent,
                point_m=points[i],
                force_N=wrenches[i, :3],
                moment_Nm=wrenches[i, 3:],
                axial_N=float(force[1]),
                shear_N=force[::2],
                torsion_Nm=float(moment[1]),
                bending_Nm=moment[::2],
                force_range_N=ranges[i][0] if i in ranges else None,
                moment_range_Nm=ranges[i][1] if i in ranges else None,
            )
        )
    return tuple(loads)


def _find_joint_ranges(points: Array, carried: Carried) -> dict[int, tuple[Array, Array]]:
    """Ranges (2, 3) of force and moment about the joints at points (n, 3), where the reactions may shift."""
    ranges: dict[int, tuple[Array, Array]] = {}
    if not len(carried.corners):
        return ranges
    groups: dict[bytes, list[int]] = {}
    for i in np.flatnonzero(carried.between.any(axis=1)).tolist():
        groups.setdefault(carried.between[i].tobytes(), []).append(i)
    plan = carried.contacts.points_m[carried.corners, :2] - carried.about_m[:2]
    for members in groups.values():
        push = carried.vertices_N * carried.between[members[0]][carried.corners]
        total, x, y = push.sum(axis=1), (push * plan[..., 0]).sum(axis=1), (push * plan[..., 1]).sum(axis=1)
        if np.ptp(total) + (np.ptp(x) + np.ptp(y)) / (np.abs(plan).max() or 1) <= SAME_SHARE * carried.weight_N:
            continue
        base = move_wrenches(carried.weights_distal[members], carried.about_m, points[members])
        arm = points[members, :2] - carried.about_m[:2]
        moments = np.zeros((2, len(members), 3))
        about_x = base[:, 3, None] + y - arm[:, 1, None] * total
        about_y = base[:, 4, None] - x + arm[:, 0, None] * total
        for k, pick in enumerate((np.min, np.max)):
            moments[k, :, 0], moments[k, :, 1] = pick(about_x, axis=1), pick(about_y, axis=1)
        for j, i in enumerate(members):
            force = np.zeros((2, 3))
            force[:, 2] = base[j, 2] + total.min(), base[j, 2] + total.max()
            ranges[i] = force, moments[:, j]
    return ranges


def load_feet(skeleton: Skeleton, contacts: Contacts, carried: Carried, site: Site) -> tuple[FootLoad, ...]:
    """What the ground carries under every foot that the skeleton has; nothing under one that is lifted."""
    loads = []
    for f, foot in enumerate(skeleton.feet):
        own = contacts.foot == f
        points = contacts.points_m[own]
        force, limits, centre = None, None, None
        if carried.reactions_N is not None:
            pushes = carried.reactions_N[own]
            force = float(pushes.sum())
            shares = (carried.vertices_N * own[carried.corners]).sum(axis=1)
            limits = (float(shares.min()), float(shares.max()))
            if force > 0:
                centre = np.array([*(pushes @ points[:, :2] / force), site.ground_m])
        loads.append(FootLoad(foot.name, points, force, limits, centre))
    return tuple(loads)
