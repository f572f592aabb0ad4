"""Where a pose puts every element."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..spatial.errors import SkeletonError
from ..spatial.rotations import joint_rotation
from ..spatial.transforms import Array, invert, make_transform, mean_motion
from .pose import Pose
from .tree import Skeleton


@dataclass(frozen=True, eq=False)
class Movers:
    """The elements that move of themselves: the root, the children of joints that turn, and what straddles two others.

    The rest ride on them.

    rows : index by name of the root, 0, and of those that turn
    elements : (k,) index of the element; each comes after those that it follows
    parents : (k,) which mover each hangs on, -1 for the root
    seconds : (k,) the second mover that one follows which straddles two; -1 for the others
    X_WJ, X_JW : (k, 4, 4) joint frames in the world of the neutral articulation and back; the world's for the root
    senses : (k, 3)
    carriers : (n,) which mover each element of the skeleton rides on
    """

    rows: dict[str, int]
    elements: np.ndarray
    parents: np.ndarray
    seconds: np.ndarray
    X_WJ: Array
    X_JW: Array
    senses: np.ndarray
    carriers: np.ndarray


def find_movers(skeleton: Skeleton) -> Movers:
    """Fuse what is rigidly attached: done once for all poses of a skeleton."""
    moving = _list_moving(skeleton)
    carriers = np.full(len(skeleton.elements), -1)
    carriers[moving] = np.arange(len(moving))
    above = skeleton.parents
    for i in np.flatnonzero(carriers < 0):
        carriers[i] = carriers[above[i]]
    joints = [skeleton.joints[i - 1] for i in moving[1:]]
    X_WJ = np.stack([np.eye(4), *(joint.X_WJ for joint in joints)])
    seconds = [-1 if joint.also is None else carriers[skeleton.index(joint.also)] for joint in joints]
    turning = [True, *(joint.moves for joint in joints)]
    return Movers(
        rows={skeleton.elements[i].name: row for row, i in enumerate(moving.tolist()) if turning[row]},
        elements=moving,
        parents=np.array([-1, *carriers[above[moving[1:]]].tolist()]),
        seconds=np.array([-1, *seconds]),
        X_WJ=X_WJ,
        X_JW=invert(X_WJ),
        senses=np.array([(1, 1, 1), *(joint.senses for joint in joints)]),
        carriers=carriers,
    )


def _list_moving(skeleton: Skeleton) -> np.ndarray:
    """Indices of the elements that move of themselves, what hangs on one that straddles two others last.

    In tree order alone the second of those two might come after it.
    """
    late = np.zeros(len(skeleton.elements), bool)
    above = skeleton.parents
    for i, joint in enumerate(skeleton.joints, start=1):
        late[i] = joint.also is not None or late[above[i]]
    own = [i for i, joint in enumerate(skeleton.joints, start=1) if joint.moves or joint.also is not None]
    return np.array([0, *sorted(own, key=lambda i: bool(late[i]))])


def joint_motions(skeleton: Skeleton, pose: Pose) -> Array:
    """(n, 4, 4) the motion of every element from its place in the neutral articulation to the pose, world frame.

    An element's frame stands at ``motions[i] @ element.X_WE``, its own joint's at ``motions[i] @ joint.X_WJ``.

    Raises
    ------
    SkeletonError : the pose turns a joint that is not there or is fixed, or an angle is not finite
    """
    return move_elements(skeleton, find_movers(skeleton), pose)


def move_elements(skeleton: Skeleton, movers: Movers, pose: Pose) -> Array:
    """The same as `joint_motions`, for many poses of one skeleton; movers : of `find_movers`."""
    rows = _check_angles(skeleton, movers, pose)
    angles = np.array([pose.angles_rad[name] for name in rows], float).reshape(-1, 3)
    turned = np.fromiter(rows.values(), int, len(rows))
    turn = make_transform(joint_rotation(angles, movers.senses[turned]), np.zeros(3))
    turns = dict(zip(turned.tolist(), movers.X_WJ[turned] @ turn @ movers.X_JW[turned], strict=True))
    motions = np.empty((len(movers.parents), 4, 4))
    motions[0] = pose.X_WN
    followed = zip(movers.parents.tolist(), movers.seconds.tolist(), strict=True)
    for row, (parent, second) in enumerate(followed):
        if second >= 0:
            motions[row] = mean_motion(motions[parent], motions[second], movers.X_WJ[row, :3, 3])
        elif row:
            motions[row] = motions[parent] @ turns[row] if row in turns else motions[parent]
    moved: Array = motions[movers.carriers]
    return moved


def place_elements(skeleton: Skeleton, pose: Pose) -> Array:
    """(n, 4, 4) X_WE of every element in the pose."""
    return joint_motions(skeleton, pose) @ np.stack([element.X_WE for element in skeleton.elements])


def check_pose(skeleton: Skeleton, pose: Pose) -> None:
    """Raise SkeletonError where a pose turns a joint that is not there or is fixed, or an angle is not finite."""
    _check_angles(skeleton, find_movers(skeleton), pose)


def _check_angles(skeleton: Skeleton, movers: Movers, pose: Pose) -> dict[str, int]:
    """Which mover each name of the pose turns; names of fixed joints at angle 0 are left out."""
    rows = {}
    for child, angles in pose.angles_rad.items():
        row = movers.rows.get(child)
        if not row and child not in {joint.child for joint in skeleton.joints}:
            raise SkeletonError(f"pose {pose.name}", f"it turns {child!r}, which has no joint", "correct the pose")
        if np.shape(angles) != (3,) or not all(map(math.isfinite, angles)):
            raise SkeletonError(f"pose {pose.name}", f"the angles of {child!r} are not three numbers", "set it again")
        if row:
            rows[child] = row
        elif np.any(angles):
            raise SkeletonError(f"pose {pose.name}", f"the joint of {child!r} is fixed", "set the joint or angle 0")
    return rows
