"""The part of a skeleton that a set of goals asks of: its moving elements from the root to each, where they stand and
how they go as joints turn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..skeleton.kinematics import Movers
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.rotations import joint_rotation
from ..spatial.transforms import Array, make_transform


@dataclass(frozen=True, eq=False)
class Linkage:
    """Movers from the root to the elements asked for, each after its parent; the root is the first, 0.

    joints : (k,) index of each mover's joint in the skeleton, -1 for the root
    parents : (k,) which of these each hangs on
    X_WJ, X_JW : (k, 4, 4) joint frames in the world of the neutral articulation and back
    senses : (k, 3)
    places : by element asked for, which of these it rides on
    above : (k, k) whether the joint of the second moves the first
    """

    joints: NDArray[np.int64]
    parents: list[int]
    X_WJ: Array
    X_JW: Array
    senses: Array
    places: dict[str, int]
    above: NDArray[np.bool_]


def link_elements(skeleton: Skeleton, movers: Movers, elements: Iterable[str]) -> Linkage:
    """The linkage that carries these elements.

    Raises
    ------
    SkeletonError : no element of that name, or one that hangs half and half between two others
    """
    carriers = {name: int(movers.carriers[skeleton.index(name)]) for name in elements}
    needed = {0}
    for name, mover in carriers.items():
        at = mover
        while at > 0:
            if movers.seconds[at] >= 0:
                raise SkeletonError(name, "it hangs between two elements, and goes with both", "choose one of them")
            needed.add(at)
            at = int(movers.parents[at])
    rows = sorted(needed)
    place = {mover: k for k, mover in enumerate(rows)}
    parents = [-1, *(place[int(movers.parents[mover])] for mover in rows[1:])]
    above = np.eye(len(rows), dtype=bool)
    for k, parent in enumerate(parents[1:], start=1):
        above[k] |= above[parent]
    return Linkage(
        joints=movers.elements[rows] - 1,
        parents=parents,
        X_WJ=movers.X_WJ[rows],
        X_JW=movers.X_JW[rows],
        senses=movers.senses[rows].astype(np.float64),
        places={name: place[mover] for name, mover in carriers.items()},
        above=above,
    )


def read_angles(linkage: Linkage, skeleton: Skeleton, pose: Pose) -> Array:
    """(k, 3) the angles at which a pose has the linkage's joints, zero for the root."""
    names = [skeleton.joints[i].child if i >= 0 else "" for i in linkage.joints.tolist()]
    return np.array([pose.angles_rad.get(name, (0.0, 0.0, 0.0)) for name in names], float)


def move_linkage(linkage: Linkage, angles_rad: Array, X_WN: Array) -> Array:
    """(k, 4, 4) the motion of every mover from the neutral articulation, at angles (k, 3)."""
    turns = make_transform(joint_rotation(angles_rad, linkage.senses), np.zeros(3))
    steps = linkage.X_WJ @ turns @ linkage.X_JW
    motions = np.empty_like(steps)
    motions[0] = X_WN
    each = list(motions)  # a view of each: to take one by its index takes as long as the product
    for own, step, parent in zip(each[1:], steps[1:], linkage.parents[1:], strict=True):
        np.dot(each[parent], step, out=own)
    return motions


def find_axes(linkage: Linkage, angles_rad: Array, motions: Array) -> tuple[Array, Array]:
    """(k, 3, 3) rows: the world axes that flexion, lateral, axial of each joint turn about; (k, 3) its centre."""
    signed = angles_rad * linkage.senses
    (cf, cl, _), (sf, sl, _) = np.cos(signed).T, np.sin(signed).T
    own = np.zeros((len(signed), 3, 3))
    own[:, 0, 0] = 1.0
    own[:, 1, 1], own[:, 1, 2] = -sf, cf
    own[:, 2, 0], own[:, 2, 1], own[:, 2, 2] = -sl, cf * cl, sf * cl
    own *= linkage.senses[:, :, None]
    frames = motions[np.maximum(linkage.parents, 0)] @ linkage.X_WJ
    axes: Array = own @ np.swapaxes(frames[:, :3, :3], 1, 2)
    return axes, frames[:, :3, 3]
