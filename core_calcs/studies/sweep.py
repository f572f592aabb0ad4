"""Many poses of one skeleton at once: centre of mass, moments at the joints, what the feet carry, margins.

The figures are those of `assess_prepared` for every pose, without its ranges, uncertainties and checks.
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
    shape_batch_tree,
    turn_tree,
)
from .assess import find_standing, find_supports
from .limbs import Limbs, find_limbs, place_limbs
from .prepared import Prepared
from .turning import take_pose

CHUNK = 4096
"""Poses that are turned together: so many that what one body needs, some 200 bytes each, stays in a level-2 cache."""

ROOM_BYTES = 2**26
"""Fewer where the attitudes of all bodies would need more than this."""

JOINTS = 8
"""Joints whose angles are put in order together: one's are a fraction of what a processor fetches at once."""


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
    forces, moments = np.empty((bodies, poses)), np.empty((bodies, poses), complex)
    size = min(choose_chunk(bodies), poses)
    room, parts = np.empty((bodies, 2, size), complex), []
    for start in range(0, poses, size):
        own = slice(start, min(start + size, poses))
        attitudes = room if own.stop - start == size else np.empty((bodies, 2, own.stop - start), complex)
        chunk = turn_tree(tree, list_turns(prepared, tree, pose, angles[own]), attitudes, moments[:, own])
        parts.append(study_chunk(prepared, pose, site, tree, limbs, chunk, forces[:, own]))
    centres, feet, *margins = (np.concatenate(figures) for figures in zip(*parts, strict=True))
    about = np.moveaxis(moments.view(float).reshape(bodies, poses, 2)[:, :, ::-1], 2, 1)
    mass = float(prepared.bodies.mass_kg.sum())
    return Sweep(joints, mass, centres, forces[1:], about[1:], feet, *margins)


def choose_chunk(bodies: int) -> int:
    """How many poses of so many bodies to turn together."""
    fit = ROOM_BYTES // (32 * bodies)
    return min(CHUNK, max(1024, 1 << fit.bit_length() - 1))


def shape_batch(prepared: Prepared) -> BatchTree:
    """The elements that turn of themselves, with what rides on them, as one tree."""
    movers, bodies = prepared.movers, prepared.bodies
    joints = movers.X_WJ[:, :3, 3].copy()
    joints[0] = prepared.X_WJ[0, :3, 3]
    first, weight = np.zeros((len(joints), 3)), np.zeros(len(joints))
    own = GRAVITY * bodies.mass_kg
    np.add.at(first, movers.carriers, own[:, None] * (bodies.centre_m - joints[movers.carriers]))
    np.add.at(weight, movers.carriers, own)
    return shape_batch_tree(movers.parents, joints, weight, first)


def list_turns(prepared: Prepared, tree: BatchTree, pose: Pose, angles_rad: Array) -> Iterator[np.ndarray]:
    """Turns (2, b) of every body's own axes against its parent's by angles (b, j, 3); the root as the pose has it.

    They come in the same array, one after the other: what belongs to one joint stays in the processor's cache.
    """
    movers, count = prepared.movers, len(angles_rad)
    turn = np.empty((2, count), complex)
    root = multiply_right(tree.axes[0]) @ find_quaternion(pose.X_WN[:3, :3])
    fill_turns(turn, np.tile(root[:, None], (1, count)))
    yield turn
    # From a turn in the joint's frame to one of the own axes.
    frames = np.tile(np.eye(4), (len(movers.parents), 1, 1))
    frames[:, 1:, 1:] = movers.X_WJ[:, :3, :3]
    above = tree.axes[movers.parents[1:]] * (1, -1, -1, -1)
    factors = multiply_left(above) @ multiply_right(tree.axes[1:]) @ frames[1:]
    for first in range(0, len(factors), JOINTS):
        own = slice(first, first + JOINTS)
        halves = np.ascontiguousarray(np.moveaxis(angles_rad[:, own], 0, 2))
        halves *= movers.senses[1:][own, :, None] / 2
        for half, factor in zip(halves, factors[own], strict=True):
            fill_turns(turn, factor @ joint_quaternion(half))
            yield turn


def study_chunk(
    prepared: Prepared,
    pose: Pose,
    site: Site,
    tree: BatchTree,
    limbs: Limbs,
    chunk: TurnedTree,
    forces: Array,
) -> tuple[Array, ...]:
    """Centres, feet and margins of a chunk of poses; forces (k, b) of all bodies are filled in, and the chunk's moments
    get what the feet do."""
    weight, moments = float(tree.weight_N[0]), chunk.moments_Nm
    origin = pose.X_WN[:3, :3] @ tree.joints_m[0] + pose.X_WN[:3, 3]
    # Everything is seen from the root's joint: no digits are lost to a site far from the origin.
    plan = moments[0] / (weight or 1.0)
    centres = np.stack([plan.real, -plan.imag, chunk.heights_m])
    flat, points = place_limbs(tree, limbs, chunk)
    level = replace(site, ground_m=site.ground_m - float(origin[2]))
    stands, stiffness = _find_stands(prepared, pose, level, points)
    ground = points.copy()
    ground[2] = (level.ground_m + find_supports(prepared, site).height_m[prepared.contacts.foot])[:, None]
    margins = measure_batch(ground.T, stands.T, centres.T, weight)
    carried: np.ndarray = margins.distance_m >= 0  # not a number: on no polygon
    pushes = np.full(stands.shape, np.nan)
    own = slice(None) if carried.all() else carried
    pushes[:, own] = solve_springs_batch(points[:2, :, own], stiffness[:, own], weight, centres[:2, own])
    forces[:] = -tree.weight_N[:, None]
    ups, firsts = _sum_reactions(prepared, pose, limbs, points, stands, pushes, (weight, moments[0].copy()))
    factors = ups.astype(complex)  # once, not with every product
    for j, group, place in zip(limbs.path, limbs.group, flat, strict=True):
        forces[j] += ups[group]
        place *= factors[group]
        place -= firsts[group]
        moments[j] += place
    feet = pushes.T @ _list_members(prepared)
    return centres.T + origin, feet, margins.distance_m, margins.tip_angle_rad, margins.energy_J


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
