"""What carries the points that may touch the ground, and where it is in many poses at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array
from ..statics.batch_tree import BatchTree, TurnedTree, find_own_vectors, turn_vectors
from .prepared import Prepared


@dataclass(frozen=True, eq=False)
class Limbs:
    """What may touch the ground, and the bodies that carry it.

    path : (p) bodies from which something that may touch hangs, parents first
    beyond : (s, c) which points can lie beyond a cut; group : (p) which of these do beyond the one above each body
    body : (c,) of each point
    joints_m : (p, 2, 2) from the parent's joint to the body's, in the parent's own axes, as `find_own_vectors` has them
    points_m : (c, 2, 2) from the body's joint, in its own axes
    """

    path: list[int]
    beyond: np.ndarray
    group: list[int]
    body: np.ndarray
    joints_m: np.ndarray
    points_m: np.ndarray


def find_limbs(prepared: Prepared, tree: BatchTree) -> Limbs:
    """What of a skeleton, as a tree of bodies, may touch the ground."""
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


def place_limbs(tree: BatchTree, limbs: Limbs, chunk: TurnedTree) -> tuple[np.ndarray, Array]:
    """Joints of the path as x - i y (p, b), and the points that may touch (3, c, b), seen from the root's joint."""
    poses = len(chunk.heights_m)
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
