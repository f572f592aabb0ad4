"""Where a pose puts every element."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..spatial.errors import SkeletonError
from ..spatial.rotations import joint_angles, joint_rotation
from ..spatial.transforms import Array, invert, is_rigid, make_transform, mean_motion
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
    if pose.mounted:
        return _move_mounted(skeleton, pose)
    angles = np.array([pose.angles_rad[name] for name in rows], float).reshape(-1, 3)
    turned = np.fromiter(rows.values(), int, len(rows))
    turn = make_transform(joint_rotation(angles, movers.senses[turned]), np.zeros(3))
    turns: list[Array | None] = [None] * len(movers.parents)
    for row, own in zip(turned.tolist(), movers.X_WJ[turned] @ turn @ movers.X_JW[turned], strict=True):
        turns[row] = own
    motions = np.empty((len(movers.parents), 4, 4))
    motions[0] = pose.X_WN
    each = list(motions)  # a view of each: to take one by its index takes as long as the product
    followed = zip(movers.parents.tolist(), movers.seconds.tolist(), turns, strict=True)
    for row, (parent, second, step) in enumerate(followed):
        if second >= 0:
            motions[row] = mean_motion(motions[parent], motions[second], movers.X_WJ[row, :3, 3])
        elif step is not None:
            np.dot(each[parent], step, out=each[row])
        elif row:
            each[row][:] = each[parent]
    moved: Array = motions[movers.carriers]
    return moved


def _move_mounted(skeleton: Skeleton, pose: Pose) -> Array:
    motions = np.empty((len(skeleton.elements), 4, 4))
    for i, element in enumerate(skeleton.elements):
        if element.name in pose.mounted:
            motions[i] = pose.X_WN @ pose.mounted[element.name] @ invert(element.X_WE)
        else:
            motions[i] = motions[skeleton.parents[i]] if i else pose.X_WN
    return motions


def measure_angles(skeleton: Skeleton, motions: Array, children: Sequence[int]) -> Array:
    """(k, 3) flexion, lateral, axial [rad] of joints as the elements stand, by the index of each joint's child.

    motions : (n, 4, 4) of the elements, as `joint_motions` gives them; of a pose as mounted a child may be off its
        joint as well, which the angles do not tell
    """
    rows = np.asarray(children, int)
    if not len(rows):
        return np.empty((0, 3))
    joints = [skeleton.joints[i - 1] for i in rows.tolist()]
    R_WJ = np.stack([joint.X_WJ[:3, :3] for joint in joints])
    turned = invert(motions[skeleton.parents[rows]])[:, :3, :3] @ motions[rows][:, :3, :3]
    R_J = np.swapaxes(R_WJ, -1, -2) @ turned @ R_WJ
    return joint_angles(R_J, np.array([joint.senses for joint in joints]))


def place_elements(skeleton: Skeleton, pose: Pose) -> Array:
    """(n, 4, 4) X_WE of every element in the pose."""
    return joint_motions(skeleton, pose) @ np.stack([element.X_WE for element in skeleton.elements])


def check_pose(skeleton: Skeleton, pose: Pose) -> None:
    """Raise SkeletonError where a pose turns a joint that is not there or is fixed, or an angle is not finite."""
    _check_angles(skeleton, find_movers(skeleton), pose)


def _check_angles(skeleton: Skeleton, movers: Movers, pose: Pose) -> dict[str, int]:
    """Which mover each name of the pose turns; names of fixed joints at angle 0 are left out."""
    known = {child: movers.rows.get(child, 0) for child in pose.angles_rad}
    if all(known.values()) and not pose.mounted and _are_angles(list(pose.angles_rad.values())):
        return known
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
    if pose.mounted:
        _check_mounted(skeleton, pose)
    return rows


def _are_angles(values: list[Array]) -> bool:
    """Whether each is three finite numbers: all at once, for the pose that follows a dragged bone."""
    try:
        angles = np.array(values, float)
    except (TypeError, ValueError):  # not as many of each, or no numbers
        return False
    return not values or (angles.shape == (len(values), 3) and bool(np.isfinite(angles).all()))


def _check_mounted(skeleton: Skeleton, pose: Pose) -> None:
    where = f"pose {pose.name}"
    if pose.angles_rad:
        raise SkeletonError(where, "it holds both angles of joints and places as mounted", "keep one of the two")
    known = {element.name for element in skeleton.elements}
    for name, X in pose.mounted.items():
        if name not in known:
            raise SkeletonError(where, f"it places {name!r}, which is no element", "correct the pose")
        if not is_rigid(X):
            raise SkeletonError(where, f"the place of {name!r} is not rigid", "correct the pose")
