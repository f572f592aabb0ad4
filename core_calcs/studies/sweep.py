"""Many poses of one skeleton at once: centre of mass, moments at the joints, what the feet carry, margins.

The figures are those of `assess_prepared` for every pose, without its ranges, doubts and checks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..site.site import GRAVITY, Site
from ..skeleton.pose import Pose
from ..spatial.errors import SkeletonError
from ..spatial.quaternions import find_quaternion, joint_quaternion, multiply_left, multiply_right
from ..spatial.transforms import Array
from ..statics.batch_margins import measure_batch
from ..statics.batch_springs import solve_springs_batch
from ..statics.batch_tree import (
    BatchTree,
    TurnedTree,
    fill_turns,
    find_own_vectors,
    make_buffers,
    shape_batch_tree,
    turn_tree,
    turn_vectors,
)
from .assess import find_standing, find_supports
from .prepared import Prepared
from .turning import take_pose

CHUNK = 2048
"""Poses that are turned together: so many that an array of one body's stays in the processor's cache."""


@dataclass(frozen=True, eq=False)
class Sweep:
    """Self-weight in b poses; not a number where it is not known.

    joints : (j) children of the joints that turn, in the order of the angles
    centres_m : (b, 3)
    forces_N : (j, b) upwards, and moments_Nm (j, 2, b) about x and y, of the distal on the proximal part at the joint:
        world; under self-weight there are no others
    feet_N : (b, f) what the ground carries under each foot, by springs
    distance_m, tip_angle_rad, energy_J : (b,) least margins over the edges; not a number where it stands on no polygon
    """

    joints: tuple[str, ...]
    mass_kg: float
    centres_m: Array
    forces_N: Array
    moments_Nm: Array
    feet_N: Array
    distance_m: Array
    tip_angle_rad: Array
    energy_J: Array


@dataclass(frozen=True, eq=False)
class Limbs:
    """What may touch the ground, and the bodies that carry it.

    path : (p) bodies from which something that may touch hangs, parents first
    beyond : (s, c) which points can lie beyond a cut; group : (p) which of these do beyond the one above each body
    body : (c,) of each point
    joints_m : (p, 3) from the parent's joint to the body's, in the parent's own axes
    points_m : (c, 3) from the body's joint, in its own axes
    """

    path: list[int]
    beyond: np.ndarray
    group: list[int]
    body: np.ndarray
    joints_m: Array
    points_m: Array


def list_turning_joints(prepared: Prepared) -> tuple[str, ...]:
    """Children of the joints that turn, in the order in which a sweep takes their angles."""
    return tuple(name for name, row in prepared.movers.rows.items() if row)


def sweep_angles(prepared: Prepared, pose: Pose, site: Site, angles_rad: ArrayLike) -> Sweep:
    """All poses with angles (b, j, 3): flexion, lateral, axial of `list_turning_joints`; placed as `pose` is.

    Raises
    ------
    SkeletonError : no pose, angles of another shape or not finite, a pose as mounted
    """
    angles, joints = np.asarray(angles_rad, float), list_turning_joints(prepared)
    if not len(angles) or angles.shape[1:] != (len(joints), 3) or not np.isfinite(angles).all():
        what = f"poses of {len(joints)} joints are wanted, three finite angles each"
        raise SkeletonError("sweep", what, "give them in the order of the joints that turn")
    if pose.mounted:
        raise SkeletonError(f"pose {pose.name}", "it holds places as mounted, not angles", "choose a pose of angles")
    if (prepared.movers.seconds >= 0).any() or find_supports(prepared, site).anchored.any():
        return _sweep_one_by_one(prepared, pose, site, joints, angles)
    tree = shape_batch(prepared)
    limbs = find_limbs(prepared, tree)
    bodies, poses = len(tree.parents), len(angles)
    forces, moments = np.empty((bodies, poses)), np.empty((bodies, 2, poses))
    room = make_buffers(bodies, min(CHUNK, poses))
    parts = []
    for start in range(0, poses, CHUNK):
        own = slice(start, min(start + CHUNK, poses))
        chunk = room if own.stop - start == room.first_kg_m.shape[1] else make_buffers(bodies, own.stop - start)
        turn_tree(tree, list_turns(prepared, tree, pose, angles[own]), chunk)
        parts.append(study_chunk(prepared, pose, site, tree, limbs, chunk, forces[:, own], moments[:, :, own]))
    centres, feet, *margins = (np.concatenate(figures) for figures in zip(*parts, strict=True))
    return Sweep(joints, float(tree.mass_kg[0]), centres, forces[1:], moments[1:], feet, *margins)


def shape_batch(prepared: Prepared) -> BatchTree:
    """The elements that turn of themselves, with what rides on them, as one tree."""
    movers, bodies = prepared.movers, prepared.bodies
    joints = movers.X_WJ[:, :3, 3].copy()
    joints[0] = prepared.X_WJ[0, :3, 3]
    first, mass = np.zeros((len(joints), 3)), np.zeros(len(joints))
    np.add.at(first, movers.carriers, bodies.mass_kg[:, None] * (bodies.centre_m - joints[movers.carriers]))
    np.add.at(mass, movers.carriers, bodies.mass_kg)
    return shape_batch_tree(movers.parents, joints, mass, first)


def list_turns(prepared: Prepared, tree: BatchTree, pose: Pose, angles_rad: Array) -> Iterator[np.ndarray]:
    """Turns (2, 2, b) of every body's own axes against its parent's by angles (b, j, 3); the root as the pose has it.

    They come in the same array, one after the other: what belongs to one joint stays in the processor's cache.
    """
    movers, count = prepared.movers, len(angles_rad)
    turn = np.empty((2, 2, count), complex)
    root = multiply_right(tree.axes[0]) @ find_quaternion(pose.X_WN[:3, :3])
    fill_turns(turn, np.tile(root[:, None], (1, count)))
    yield turn
    # From a turn in the joint's frame to one of the own axes.
    frames = np.tile(np.eye(4), (len(movers.parents), 1, 1))
    frames[:, 1:, 1:] = movers.X_WJ[:, :3, :3]
    above = tree.axes[movers.parents[1:]] * (1, -1, -1, -1)
    factors = multiply_left(above) @ multiply_right(tree.axes[1:]) @ frames[1:]
    halves = np.ascontiguousarray(np.moveaxis(angles_rad, 0, 2))
    halves *= movers.senses[1:, :, None] / 2
    for half, factor in zip(halves, factors, strict=True):
        fill_turns(turn, factor @ joint_quaternion(half))
        yield turn


def find_limbs(prepared: Prepared, tree: BatchTree) -> Limbs:
    contacts, parents = prepared.contacts, tree.parents
    body = prepared.movers.carriers[contacts.body]
    beyond = np.zeros((len(parents), len(body)), bool)
    beyond[body, np.arange(len(body))] = True
    for j in range(len(parents) - 1, 0, -1):
        beyond[parents[j]] |= beyond[j]
    path = np.flatnonzero(beyond.any(axis=1))
    sets, group = np.unique(beyond[path], axis=0, return_inverse=True)
    joints = find_own_vectors(tree.axes[parents[path]], tree.joints_m[path] - tree.joints_m[parents[path]])
    points = find_own_vectors(tree.axes[body], contacts.points_m - tree.joints_m[body])
    return Limbs(path.tolist(), sets, group.reshape(-1).tolist(), body, joints, points)


def study_chunk(
    prepared: Prepared,
    pose: Pose,
    site: Site,
    tree: BatchTree,
    limbs: Limbs,
    chunk: TurnedTree,
    forces: Array,
    moments: Array,
) -> tuple[Array, ...]:
    """Centres, feet and margins of a chunk of poses; forces (k, b), moments (k, 2, b) of all bodies are filled in."""
    mass, first = float(tree.mass_kg[0]), chunk.first_kg_m
    origin = pose.X_WN[:3, :3] @ tree.joints_m[0] + pose.X_WN[:3, 3]
    # Everything is seen from the root's joint: no digits are lost to a site far from the origin.
    centres = np.stack([first[0].real, -first[0].imag, chunk.height_kg_m]) / (mass or 1.0)
    flat, points = _place_limbs(tree, limbs, chunk)
    level = replace(site, ground_m=site.ground_m - float(origin[2]))
    stands, stiffness = _find_stands(prepared, pose, level, points)
    ground = points.copy()
    ground[2] = (level.ground_m + find_supports(prepared, site).height_m[prepared.contacts.foot])[:, None]
    margins = measure_batch(ground.T, stands.T, centres.T, GRAVITY * mass)
    carried: np.ndarray = margins.distance_m >= 0  # not a number: on no polygon
    pushes = np.full(stands.shape, np.nan)
    own = slice(None) if carried.all() else carried
    pushes[:, own] = solve_springs_batch(points[:2, :, own], stiffness[:, own], GRAVITY * mass, centres[:2, own])
    forces[:] = -GRAVITY * tree.mass_kg[:, None]
    np.multiply(GRAVITY, first.imag, moments[:, 0])
    np.multiply(GRAVITY, first.real, moments[:, 1])
    sums = _sum_reactions(prepared, pose, limbs, points, stands, pushes, (GRAVITY * mass, GRAVITY * first[0]))
    for j, group, place in zip(limbs.path, limbs.group, flat, strict=True):
        up = sums[0][group]
        turned = up * place - sums[1][group]
        forces[j] += up
        moments[j, 0] += turned.imag
        moments[j, 1] += turned.real
    feet = pushes.T @ _list_members(prepared)
    return centres.T + origin, feet, margins.distance_m, margins.tip_angle_rad, margins.energy_J


def _place_limbs(tree: BatchTree, limbs: Limbs, chunk: TurnedTree) -> tuple[np.ndarray, Array]:
    """Joints of the path as x - i y (p, b), and the points that may touch (3, c, b), seen from the root's joint."""
    poses = chunk.first_kg_m.shape[1]
    flat, height = np.zeros((len(limbs.path), poses), complex), np.zeros((len(limbs.path), poses))
    rows = {j: at for at, j in enumerate(limbs.path)}
    for at, j in enumerate(limbs.path):
        if j:
            parent = int(tree.parents[j])
            arm = turn_vectors(chunk.attitudes[parent], limbs.joints_m[at : at + 1])
            np.add(flat[rows[parent]], arm[0][0], flat[at])
            np.add(height[rows[parent]], arm[1][0], height[at])
    points = np.empty((3, len(limbs.body), poses))
    for j in set(limbs.body.tolist()):
        own = limbs.body == j
        plan, up = turn_vectors(chunk.attitudes[j], limbs.points_m[own])
        plan += flat[rows[j]]
        points[0, own], points[1, own], points[2, own] = plan.real, -plan.imag, up + height[rows[j]]
    return flat, points


def _find_stands(prepared: Prepared, pose: Pose, site: Site, points: Array) -> tuple[np.ndarray, Array]:
    """Which points (c, b) bear, and how stiff each is: the corners of a foot share its stiffness.

    Where more than one point of a foot stands, their outline is thinned as the study of one pose does it.
    """
    foot = prepared.contacts.foot
    idle = tuple(prepared.skeleton.foot_index(name) for name in pose.idle_feet)
    supports = find_supports(prepared, site)
    highest = site.ground_m + supports.height_m[foot] + site.contact_tolerance_m
    stands = (points[2] <= highest[:, None]) & ~np.isin(foot, idle)[:, None]
    member = _list_members(prepared).T
    everything = replace(prepared.contacts, body=np.arange(len(foot)))
    indexed = replace(prepared, contacts=everything)
    for i in np.flatnonzero((member @ stands > 1).any(axis=0)).tolist():
        stands[:, i] = False
        stands[find_standing(indexed, points[:, :, i].T, site, idle).body, i] = True
    shares = np.maximum(member @ stands, 1)[foot]
    return stands, np.where(stands, supports.stiffness[foot, None] / shares, 0.0)


def _list_members(prepared: Prepared) -> Array:
    """(c, f) 1 where a point that may touch is of a foot."""
    member: Array = (prepared.contacts.foot[:, None] == np.arange(len(prepared.skeleton.feet))).astype(float)
    return member


def _sum_reactions(
    prepared: Prepared,
    pose: Pose,
    limbs: Limbs,
    points: Array,
    stands: np.ndarray,
    pushes: Array,
    weight: tuple[float, np.ndarray],
) -> tuple[Array, np.ndarray]:
    """What the feet push beyond the cuts of every group (s, b), and its first moment x - i y.

    Where that is not known, what the part without feet tells; not a number where neither does. `weight` of the whole,
    and its first moment about the root (b,).
    """
    known: np.ndarray = ~np.logical_or.reduce(np.isnan(pushes), axis=0)
    push = np.where(stands & known, pushes, 0.0)
    beyond = limbs.beyond.astype(float)
    up, first = beyond @ push, beyond @ (push * points[0]) - 1j * (beyond @ (push * points[1]))
    if known.all():
        return up, first
    idle = [prepared.skeleton.foot_index(name) for name in pose.idle_feet]
    bears = np.logical_or.reduce(limbs.beyond & ~np.isin(prepared.contacts.foot, idle), axis=1)
    under, total = beyond @ stands, stands.sum(axis=0)
    ahead = ~known & (total > 0) & (under == total)
    lost = ~known & ~ahead & np.where(total > 0, under > 0, bears[:, None])
    missing = np.where(lost, np.nan, 0.0)
    return np.where(ahead, weight[0], up) + missing, np.where(ahead, weight[1], first) + missing


def _sweep_one_by_one(prepared: Prepared, pose: Pose, site: Site, joints: Sequence[str], angles: Array) -> Sweep:
    """Where an element straddles two others, or feet are anchored, each pose by itself."""
    of = {joint.child: i for i, joint in enumerate(prepared.skeleton.joints)}
    rows, feet = [of[child] for child in joints], len(prepared.skeleton.feet)
    figures: list[tuple[Array, ...]] = []
    for own in angles:
        posed = replace(pose, angles_rad=dict(zip(joints, own, strict=True)))
        found = take_pose(prepared, posed, site).self_weight
        carried = np.full(feet, np.nan) if found.feet_N is None else found.feet_N
        least = [np.nan] * 3
        if found.margins is not None:
            edges = (found.margins.distance_m, found.margins.tip_angle_rad, found.margins.energy_J)
            least = [float(edge.min()) for edge in edges]
        cuts = (found.forces_N[rows, 2], found.moments_Nm[rows, :2])
        figures.append((found.centre_m, *cuts, carried, *map(np.array, least)))
    centres, forces, moments, *rest = (np.stack(column) for column in zip(*figures, strict=True))
    mass = float(prepared.bodies.mass_kg.sum())
    return Sweep(tuple(joints), mass, centres, forces.T, np.moveaxis(moments, 0, 2), *rest)
