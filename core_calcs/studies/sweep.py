"""Many poses of one skeleton at once: centre of mass, moments at the joints, what the feet carry, margins.

The figures are those of `assess_prepared` for every pose, without its ranges, doubts and checks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..site.site import GRAVITY, Site
from ..skeleton.pose import Pose
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array
from ..statics.batch_margins import measure_batch
from ..statics.batch_springs import solve_springs_batch
from ..statics.batch_tree import BatchTree, TurnedTree, fill_turns, make_buffers, turn_tree, turn_vectors
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

    path : bodies from which something that may touch hangs, parents first; beyond : (p, c) which points
    body : (c,) of each point; arms_m : (c, 3) from the body's joint; neutral, world
    """

    path: list[int]
    beyond: np.ndarray
    body: np.ndarray
    arms_m: Array


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
    tree, limbs = shape_batch(prepared), find_limbs(prepared)
    bodies, poses = len(tree.parents), len(angles)
    forces, moments = np.empty((bodies, poses)), np.empty((bodies, 2, poses))
    room = make_buffers(bodies, min(CHUNK, poses))
    parts = []
    for start in range(0, poses, CHUNK):
        own = slice(start, min(start + CHUNK, poses))
        chunk = room if own.stop - start == room.first_kg_m.shape[1] else make_buffers(bodies, own.stop - start)
        turn_tree(tree, make_turns(prepared, pose, angles[own]), chunk)
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
    for j in range(len(joints) - 1, 0, -1):
        parent = movers.parents[j]
        mass[parent] += mass[j]
        first[parent] += mass[j] * (joints[j] - joints[parent])
    return BatchTree(movers.parents, joints, mass, first)


def make_turns(prepared: Prepared, pose: Pose, angles_rad: Array) -> np.ndarray:
    """(k, 2, 2, b) turns from neutral, world axes, by angles (b, j, 3); the root as the pose has it."""
    movers, count = prepared.movers, len(angles_rad)
    rows = [row for row in movers.rows.values() if row]
    turns = np.empty((len(movers.parents), 2, 2, count), complex)
    fill_turns(turns[0], np.tile(_find_quaternion(pose.X_WN[:3, :3])[:, None], (1, count)))
    # Joint by joint: what belongs to one stays in the processor's cache.
    half = np.ascontiguousarray(np.moveaxis(angles_rad, 0, 2))
    half *= movers.senses[rows][:, :, None] / 2
    quaternion = np.empty((4, count))
    for at, row in enumerate(rows):
        (cf, cl, ca), (sf, sl, sa) = np.cos(half[at]), np.sin(half[at])
        # Flexion about x, lateral about z, axial about y: intrinsic, in this order.
        quaternion[0] = cf * cl * ca + sf * sl * sa
        local = (sf * cl * ca - cf * sl * sa, cf * cl * sa - sf * sl * ca, cf * sl * ca + sf * cl * sa)
        np.matmul(movers.X_WJ[row, :3, :3], local, quaternion[1:])
        fill_turns(turns[row], quaternion)
    return turns


def _find_quaternion(R: Array) -> Array:
    """(4,) unit quaternion, w first, of a rotation: the eigenvector of Bar-Itzhack's matrix, J. Guidance 23 (2000)."""
    (xx, xy, xz), (yx, yy, yz), (zx, zy, zz) = R
    K = np.array(
        [
            [xx + yy + zz, zy - yz, xz - zx, yx - xy],
            [zy - yz, xx - yy - zz, xy + yx, xz + zx],
            [xz - zx, xy + yx, yy - xx - zz, yz + zy],
            [yx - xy, xz + zx, yz + zy, zz - xx - yy],
        ]
    )
    quaternion: Array = np.linalg.eigh(K)[1][:, -1]
    return quaternion


def find_limbs(prepared: Prepared) -> Limbs:
    movers, contacts = prepared.movers, prepared.contacts
    body = movers.carriers[contacts.body]
    joints = movers.X_WJ[body, :3, 3].copy()
    joints[body == 0] = prepared.X_WJ[0, :3, 3]
    own = [set(np.flatnonzero(body == j).tolist()) for j in range(len(movers.parents))]
    for j in range(len(own) - 1, 0, -1):
        own[movers.parents[j]] |= own[j]
    path = [j for j, points in enumerate(own) if points]
    beyond = np.zeros((len(path), len(body)), bool)
    for at, j in enumerate(path):
        beyond[at, sorted(own[j])] = True
    return Limbs(path, beyond, body, contacts.points_m - joints)


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
    mass = float(tree.mass_kg[0])
    origin = pose.X_WN[:3, :3] @ tree.joints_m[0] + pose.X_WN[:3, 3]
    # Everything is seen from the root's joint: no digits are lost to a site far from the origin.
    root = np.stack([chunk.first_kg_m[0].real, -chunk.first_kg_m[0].imag, chunk.height_kg_m], axis=1)
    centres = root / mass if mass > 0 else np.zeros_like(root)
    places, points = _place_limbs(tree, limbs, chunk)
    level = replace(site, ground_m=site.ground_m - float(origin[2]))
    stands, stiffness = _find_stands(prepared, pose, level, points)
    ground = points.copy()
    ground[:, :, 2] = level.ground_m + find_supports(prepared, site).height_m[prepared.contacts.foot]
    margins = measure_batch(ground, stands, centres, GRAVITY * mass)
    carried: np.ndarray = np.nan_to_num(margins.distance_m, nan=-1.0) >= 0
    pushes = np.full(stands.shape, np.nan)
    if carried.any():
        own = (points[carried, :, :2], stiffness[carried], GRAVITY * mass, centres[carried, :2])
        pushes[carried] = solve_springs_batch(*own)
    forces[:] = -GRAVITY * tree.mass_kg[:, None]
    np.multiply(GRAVITY, chunk.first_kg_m.imag, moments[:, 0])
    np.multiply(GRAVITY, chunk.first_kg_m.real, moments[:, 1])
    _add_reactions(prepared, pose, tree, limbs, (places, points, stands, pushes, root), forces, moments)
    feet = pushes @ _list_members(prepared)
    feet[~carried] = np.nan
    return centres + origin, feet, margins.distance_m, margins.tip_angle_rad, margins.energy_J


def _place_limbs(tree: BatchTree, limbs: Limbs, chunk: TurnedTree) -> tuple[dict[int, Array], Array]:
    """Joints (3, b) of the bodies that carry what may touch, and those points (b, c, 3), seen from the root's joint."""
    poses = chunk.first_kg_m.shape[1]
    places = {0: np.zeros((3, poses))}
    for j in limbs.path:
        if j:
            parent = int(tree.parents[j])
            arm = tree.joints_m[j] - tree.joints_m[parent]
            places[j] = places[parent] + turn_vectors(chunk.attitudes[parent], arm[None])[0]
    points = np.empty((poses, len(limbs.body), 3))
    for j in set(limbs.body.tolist()):
        own = limbs.body == j
        points[:, own] = np.moveaxis(places[j] + turn_vectors(chunk.attitudes[j], limbs.arms_m[own]), 2, 0)
    return places, points


def _find_stands(prepared: Prepared, pose: Pose, site: Site, points: Array) -> tuple[np.ndarray, Array]:
    """Which points (b, c) bear, and how stiff each is: the corners of a foot share its stiffness.

    Where more than three points of a foot stand, their outline is thinned as the study of one pose does it.
    """
    foot = prepared.contacts.foot
    idle = tuple(prepared.skeleton.foot_index(name) for name in pose.idle_feet)
    supports = find_supports(prepared, site)
    highest = site.ground_m + supports.height_m[foot] + site.contact_tolerance_m
    stands = (points[:, :, 2] <= highest) & ~np.isin(foot, idle)
    member = _list_members(prepared)
    counts = stands @ member
    everything = replace(prepared.contacts, body=np.arange(len(foot)))
    indexed = replace(prepared, contacts=everything)
    for i in np.flatnonzero((counts > 1).any(axis=1)).tolist():
        stands[i] = False
        stands[i, find_standing(indexed, points[i], site, idle).body] = True
    counts = stands @ member
    return stands, np.where(stands, supports.stiffness[foot] / np.maximum(counts, 1)[:, foot], 0.0)


def _list_members(prepared: Prepared) -> Array:
    """(c, f) 1 where a point that may touch is of a foot."""
    member: Array = (prepared.contacts.foot[:, None] == np.arange(len(prepared.skeleton.feet))).astype(float)
    return member


def _add_reactions(
    prepared: Prepared,
    pose: Pose,
    tree: BatchTree,
    limbs: Limbs,
    found: tuple[dict[int, Array], Array, np.ndarray, Array, Array],
    forces: Array,
    moments: Array,
) -> None:
    """What the feet do at the joints above them; where that is not known, what the part without feet tells."""
    places, points, stands, pushes, root = found
    known: np.ndarray = ~np.logical_or.reduce(np.isnan(pushes), axis=1)
    mass, touching, total = tree.mass_kg[0], stands.any(axis=1), stands.sum(axis=1)
    idle = [prepared.skeleton.foot_index(name) for name in pose.idle_feet]
    bearing = ~np.isin(prepared.contacts.foot, idle)
    push = np.where(stands & known[:, None], pushes, 0.0)
    # Sums over what hangs on each body of the forces and of their first moments.
    sums = [(own @ limbs.beyond.T).T for own in (push, push * points[:, :, 0], push * points[:, :, 1])]
    under = (stands.astype(float) @ limbs.beyond.T).T
    lost_all = not known.all()
    for at, j in enumerate(limbs.path):
        x, y = places[j][:2]
        forces[j] += sums[0][at]
        moments[j, 0] += sums[2][at] - y * sums[0][at]
        moments[j, 1] -= sums[1][at] - x * sums[0][at]
        if lost_all:
            ahead: np.ndarray = ~known & touching & (under[at] == total)
            forces[j, ahead] += GRAVITY * mass
            moments[j, 0, ahead] += GRAVITY * (root[ahead, 1] - mass * y[ahead])
            moments[j, 1, ahead] -= GRAVITY * (root[ahead, 0] - mass * x[ahead])
            free = np.where(touching, under[at] == 0, not (bearing & limbs.beyond[at]).any())
            lost: np.ndarray = ~known & ~ahead & ~free
            forces[j, lost], moments[j, :, lost] = np.nan, np.nan


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
