"""A tree of bodies in a pose as one array that a turned joint carries along: places and first moments of mass.

In an order in which every branch is one slice a joint that turns moves that slice by one rigid motion, one matrix
product; of the rest only the first moments of the bodies above change, by what the branch's own has changed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..spatial.transforms import Array
from .wrenches import sum_distal

MOTION, JOINT, MOMENT = slice(0, 4), 4, 5


@dataclass(frozen=True, eq=False)
class TreeShape:
    """What no pose changes; bodies in preorder throughout.

    parents : (n,) -1 for the root; carriers : the same as plain numbers, for walking up
    ends : (n,) where the slice of each body's branch ends; it begins with the body
    mass_kg : (n,) of each branch
    """

    parents: np.ndarray
    carriers: list[int]
    ends: np.ndarray
    mass_kg: Array


@dataclass(frozen=True, eq=False)
class PosedTree:
    """Bodies in a pose.

    vectors : (n, 6, 4) homogeneous rows: the three axes of the body's motion from neutral, its origin, the centre of
        the joint above it (the root: its origin), and the first moment of mass of its branch, whose fourth component is
        the branch's mass. World, seen from the tree's own origin
    """

    vectors: Array

    @property
    def joints_m(self) -> Array:
        """(n, 3) centres of the joints above the bodies."""
        return self.vectors[:, JOINT, :3]

    @property
    def moments_kg_m(self) -> Array:
        """(n, 3) first moments of the branches."""
        return self.vectors[:, MOMENT, :3]

    def read_motion(self, body: int) -> Array:
        """(4, 4) the motion of one body from neutral."""
        motion: Array = self.vectors[body, MOTION].T
        return motion


def shape_tree(parents: np.ndarray, ends: np.ndarray, mass_kg: Array) -> TreeShape:
    """The shape of a tree of bodies in preorder with masses (n,)."""
    return TreeShape(parents, parents.tolist(), ends, sum_distal(parents, mass_kg))


def pose_tree(shape: TreeShape, motions: Array, joints_m: Array, first_kg_m: Array) -> PosedTree:
    """All bodies placed by motions (n, 4, 4), with joints (n, 3) and own first moments (n, 3) in that pose."""
    vectors = np.empty((len(motions), 6, 4))
    vectors[:, MOTION] = np.swapaxes(motions, 1, 2)
    vectors[:, JOINT, :3], vectors[:, JOINT, 3] = joints_m, 1.0
    vectors[:, MOMENT, :3], vectors[:, MOMENT, 3] = sum_distal(shape.parents, first_kg_m), shape.mass_kg
    return PosedTree(vectors)


def turn_branch(shape: TreeShape, tree: PosedTree, body: int, motion: Array) -> PosedTree:
    """The tree with the branch of a body moved by a rigid motion (4, 4) that leaves the joint above it in place."""
    vectors = tree.vectors.copy()
    own = slice(body, int(shape.ends[body]))
    vectors[own] = (tree.vectors[own].reshape(-1, 4) @ motion.T).reshape(-1, 6, 4)
    vectors[body, JOINT] = tree.vectors[body, JOINT]
    vectors[own, :, 3] = tree.vectors[own, :, 3]
    above = list_above(shape, body)
    vectors[above, MOMENT, :3] += vectors[body, MOMENT, :3] - tree.vectors[body, MOMENT, :3]
    return replace(tree, vectors=vectors)


def list_above(shape: TreeShape, body: int) -> list[int]:
    """The bodies that carry one, from its parent to the root."""
    above, at = [], shape.carriers[body]
    while at >= 0:
        above.append(at)
        at = shape.carriers[at]
    return above
