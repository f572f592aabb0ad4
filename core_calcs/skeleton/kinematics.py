"""Where a pose puts every element."""

from __future__ import annotations

import numpy as np

from ..spatial.errors import SkeletonError
from ..spatial.rotations import joint_rotation
from ..spatial.transforms import Array, invert, make_transform
from .pose import Pose
from .tree import Skeleton


def joint_motions(skeleton: Skeleton, pose: Pose) -> Array:
    """(n, 4, 4) the motion of every element from its place in the neutral articulation to the pose, world frame.

    An element's frame stands at ``motions[i] @ element.X_WE``, its own joint's at ``motions[i] @ joint.X_WJ``.

    Raises
    ------
    SkeletonError : the pose turns a joint that is not there or is fixed, or an angle is not finite
    """
    check_pose(skeleton, pose)
    turns = _find_turns(skeleton, pose)
    motions = np.empty((len(skeleton.elements), 4, 4))
    motions[0] = pose.X_WN
    for i, parent in enumerate(skeleton.parents.tolist()[1:], start=1):
        turn = turns.get(i)
        motions[i] = motions[parent] if turn is None else motions[parent] @ turn
    return motions


def _find_turns(skeleton: Skeleton, pose: Pose) -> dict[int, Array]:
    """The motions (4, 4) of children against their parents, world of the neutral articulation, by element index."""
    turned = [
        (i, joint) for i, joint in enumerate(skeleton.joints, start=1) if joint.moves and joint.child in pose.angles_rad
    ]
    if not turned:
        return {}
    angles = np.array([pose.angles_rad[joint.child] for _, joint in turned], float)
    X_WJ = np.stack([joint.X_WJ for _, joint in turned])
    turn = make_transform(joint_rotation(angles, [joint.senses for _, joint in turned]), np.zeros(3))
    return dict(zip((i for i, _ in turned), X_WJ @ turn @ invert(X_WJ), strict=True))


def place_elements(skeleton: Skeleton, pose: Pose) -> Array:
    """(n, 4, 4) X_WE of every element in the pose."""
    return joint_motions(skeleton, pose) @ np.stack([element.X_WE for element in skeleton.elements])


def check_pose(skeleton: Skeleton, pose: Pose) -> None:
    """Raise SkeletonError where a pose turns a joint that is not there or is fixed, or an angle is not finite."""
    joints = {joint.child: joint for joint in skeleton.joints}
    for child, angles in pose.angles_rad.items():
        if child not in joints:
            raise SkeletonError(f"pose {pose.name}", f"it turns {child!r}, which has no joint", "correct the pose")
        if np.shape(angles) != (3,) or not np.isfinite(angles).all():
            raise SkeletonError(f"pose {pose.name}", f"the angles of {child!r} are not three numbers", "set it again")
        if not joints[child].moves and np.any(angles):
            raise SkeletonError(f"pose {pose.name}", f"the joint of {child!r} is fixed", "set the joint or angle 0")
