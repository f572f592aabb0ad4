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
    _check_pose(skeleton, pose)
    parents = skeleton.parents
    motions = np.empty((len(skeleton.elements), 4, 4))
    motions[0] = pose.X_WN
    for i, joint in enumerate(skeleton.joints, start=1):
        angles = pose.angles_rad.get(joint.child)
        motion = motions[parents[i]]
        if angles is not None and joint.moves:
            turn = make_transform(joint_rotation(angles, joint.senses), np.zeros(3))
            motion = motion @ joint.X_WJ @ turn @ invert(joint.X_WJ)
        motions[i] = motion
    return motions


def place_elements(skeleton: Skeleton, pose: Pose) -> Array:
    """(n, 4, 4) X_WE of every element in the pose."""
    return joint_motions(skeleton, pose) @ np.stack([element.X_WE for element in skeleton.elements])


def _check_pose(skeleton: Skeleton, pose: Pose) -> None:
    joints = {joint.child: joint for joint in skeleton.joints}
    for child, angles in pose.angles_rad.items():
        if child not in joints:
            raise SkeletonError(f"pose {pose.name}", f"it turns {child!r}, which has no joint", "correct the pose")
        if np.shape(angles) != (3,) or not np.isfinite(angles).all():
            raise SkeletonError(f"pose {pose.name}", f"the angles of {child!r} are not three numbers", "set it again")
        if not joints[child].moves and np.any(angles):
            raise SkeletonError(f"pose {pose.name}", f"the joint of {child!r} is fixed", "set the joint or angle 0")
