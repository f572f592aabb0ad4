"""What a posing rig needs of a skeleton, and what a rig's motions mean as a pose.

A rig has one bone for the root and one for each joint that moves; an element whose joint is fixed rides on the bone of
its nearest moving ancestor. A bone's rest frame is its joint's frame, so that a turn of the bone is the joint's turn.
What straddles two elements has a bone of its own, which the user does not turn: it follows two bones half and half.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..skeleton.element import Element, Series
from ..skeleton.joint import Joint
from ..skeleton.kinematics import find_movers
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.rotations import joint_angles, joint_rotation
from ..spatial.transforms import Array, apply, invert, make_transform

SHORTEST_SHARE = 0.01
"""A bone is drawn no shorter than this share of the skeleton's size: shorter ones lose their direction in float32."""

FINEST_RAD = 2e-6
"""Angles below this are taken as neutral: it is what a chain of single-precision bones can hold."""


@dataclass(frozen=True, eq=False)
class RigBone:
    """One bone of the rig.

    element : the element whose joint it turns; the root for the first bone
    parent : index of the parent bone, -1 for the first
    X_WB : (4, 4) rest frame in the world of the neutral articulation; the joint's frame J, y along the bone
    length_m : how long to draw it
    limits_rad : (3, 2) least and greatest turn about the frame's own x, z, y (flexion, lateral, axial with the senses
        applied); None where the limits are not known, and for the first bone
    second : index of the other bone that it follows, half and half with its parent; -1 for a bone that turns
    """

    element: str
    parent: int
    series: Series
    X_WB: Array
    length_m: float
    limits_rad: Array | None
    second: int = -1


@dataclass(frozen=True, eq=False)
class RigPlan:
    """Bones, the root's first, each after those that it follows.

    carriers : (n,) for each element of the skeleton the index of the bone it rides on
    turners : (n,) the same, of the nearest bone that the user can turn
    size_m : diagonal of the whole skeleton's box in the neutral articulation
    """

    bones: tuple[RigBone, ...]
    carriers: NDArray[np.int64]
    turners: NDArray[np.int64]
    size_m: float


def plan_rig(skeleton: Skeleton) -> RigPlan:
    """The bones that pose a skeleton, and what rides on each."""
    corners = [_box_corners(element) for element in skeleton.elements]
    size = float(np.linalg.norm(np.max(np.vstack(corners), axis=0) - np.min(np.vstack(corners), axis=0)))
    movers, parents = find_movers(skeleton), skeleton.parents
    turners = np.zeros(len(skeleton.elements), dtype=np.int64)
    for i in range(1, len(turners)):
        turns = skeleton.joints[i - 1].moves
        turners[i] = np.flatnonzero(movers.elements == i)[0] if turns else turners[parents[i]]
    bones = []
    for row, i in enumerate(movers.elements.tolist()):
        element, joint = skeleton.elements[i], skeleton.joints[i - 1] if i else None
        X_WB = joint.X_WJ if joint else _root_frame(element)
        reach = float(np.max(apply(invert(X_WB), corners[i])[:, 1]))
        length, limits = max(reach, SHORTEST_SHARE * size), _bone_limits(joint) if joint else None
        parent, second = int(movers.parents[row]), int(movers.seconds[row])
        bones.append(RigBone(element.name, parent, element.series, X_WB, length, limits, second))
    return RigPlan(tuple(bones), movers.carriers, turners, size)


def read_pose(skeleton: Skeleton, plan: RigPlan, motions: ArrayLike, name: str) -> Pose:
    """The pose that a rig's bones hold.

    Parameters
    ----------
    motions : (m, 4, 4) of each bone, from its rest to its present place, in the world [m]

    Raises
    ------
    SkeletonError : a bone is scaled, sheared or pulled out of its joint
    """
    D, own = np.asarray(motions, float), _list_turning(skeleton, plan)
    _check_rigid(plan, D)
    # The turned joint frame in the unturned one.
    X_JJ = np.linalg.solve(D[own.parents] @ own.rests, D[own.rows] @ own.rests)
    apart = np.linalg.norm(X_JJ[:, :3, 3], axis=-1)
    if apart.size and apart.max() > 1e-4 * plan.size_m:
        worst = own.elements[int(apart.argmax())]
        what = f"its bone stands {apart.max() * 1000:.1f} mm out of its joint"
        raise SkeletonError(worst, what, "clear the bone's location")
    found = joint_angles(_nearest_rotations(X_JJ[:, :3, :3]), own.senses)
    found[np.abs(found) < FINEST_RAD] = 0.0
    angles = {own.elements[i]: found[i].copy() for i in np.flatnonzero(found.any(axis=1)).tolist()}
    return Pose(name, angles, make_transform(_nearest_rotations(D[:1, :3, :3])[0], D[0, :3, 3]))


@dataclass(frozen=True, eq=False)
class _Turning:
    """The bones that turn, (t,): row of each and of its parent, element, rest frame (t, 4, 4), senses (t, 3)."""

    rows: NDArray[np.int64]
    parents: NDArray[np.int64]
    elements: tuple[str, ...]
    rests: Array
    senses: Array


@lru_cache(maxsize=8)
def _list_turning(skeleton: Skeleton, plan: RigPlan) -> _Turning:
    joints = {joint.child: joint for joint in skeleton.joints}
    rows = [i for i, bone in enumerate(plan.bones) if i and bone.second < 0]
    own = [plan.bones[i] for i in rows]
    return _Turning(
        rows=np.array(rows, int),
        parents=np.array([bone.parent for bone in own], int),
        elements=tuple(bone.element for bone in own),
        rests=np.array([bone.X_WB for bone in own], float).reshape(-1, 4, 4),
        senses=np.array([joints[bone.element].senses for bone in own], float).reshape(-1, 3),
    )


def bone_turns(skeleton: Skeleton, plan: RigPlan, pose: Pose) -> Array:
    """(m, 3, 3) turn of each bone in its rest frame that puts the rig into a pose; identity for the root's."""
    turns, own = np.tile(np.eye(3), (len(plan.bones), 1, 1)), _list_turning(skeleton, plan)
    named = [i for i, element in enumerate(own.elements) if element in pose.angles_rad]
    if named:
        angles = np.array([pose.angles_rad[own.elements[i]] for i in named], float)
        turns[own.rows[named]] = joint_rotation(angles, own.senses[named])
    return turns


def _bone_limits(joint: Joint) -> Array | None:
    """A sense of -1 turns the range about: what was its low end becomes the high one."""
    if joint.limits is None:
        return None
    ends = [[axis.low.angle_rad, axis.high.angle_rad] for axis in joint.limits]
    return np.sort(np.array(ends) * np.array(joint.senses)[:, None], axis=1)


def _root_frame(root: Element) -> Array:
    """At the root element's centre, x to the head, y up."""
    centre = apply(root.X_WE, root.solid.centre_m[None])[0]
    return make_transform([[1, 0, 0], [0, 0, -1], [0, 1, 0]], centre)


def _box_corners(element: Element) -> Array:
    ends = np.stack([element.solid.lower_m, element.solid.upper_m])
    picks = np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, 8).T
    return apply(element.X_WE, ends[picks, np.arange(3)])


def _nearest_rotations(R: ArrayLike) -> Array:
    """Of matrices (n, 3, 3) that are rotations but for 2e-4, as `_check_rigid` leaves two of them multiplied: their
    polar factors.

    By Newton's steps, each of which squares what they are off: after two 1e-14 is left.
    """
    nearest = np.array(R, float)
    for _ in range(2):
        nearest = nearest @ (1.5 * np.eye(3) - 0.5 * np.swapaxes(nearest, -1, -2) @ nearest)
    return nearest


def _check_rigid(plan: RigPlan, D: Array) -> None:
    if not np.isfinite(D).all():
        raise SkeletonError("rig", "a bone's place is not a number", "clear the pose of the bones")
    R = D[:, :3, :3]
    off = np.abs(R @ np.swapaxes(R, -1, -2) - np.eye(3)).max(axis=(-1, -2))
    if off.max() > 1e-4 or np.linalg.det(R).min() < 0:
        worst = plan.bones[int(off.argmax())].element
        raise SkeletonError(worst, "its bone is scaled or sheared", "clear the bone's scale")
