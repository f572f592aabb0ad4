"""Between poses: two blended, part of one taken back to neutral."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from ..skeleton.pose import Pose
from ..spatial.transforms import apply, make_transform
from .attitudes import hold_attitude
from .goals import find_turn, make_turn
from .posing import Posing, read_joints, write_joints


def blend_poses(posing: Posing, first: Pose, second: Pose, share: float) -> Pose:
    """The pose that share (0 to 1) of the way from one pose to another, named as the first.

    Angles are blended each by itself, and held inside the range where both poses are; the whole turns about the root by
    the shortest way while the root goes straight.
    """
    children = tuple(joint.child for joint in posing.skeleton.joints if joint.moves)
    one, other = (read_joints(posing, pose, children) for pose in (first, second))
    blended = one + share * (other - one)
    for i, child in enumerate(children):
        joint = posing.skeleton.joints[posing.rows[child]]
        if not np.array_equal(one[i], other[i]) and not any(hold_attitude(joint, end[i]).held for end in (one, other)):
            blended[i] = hold_attitude(joint, blended[i]).angles_rad
    base = posing.skeleton.root
    pivot = apply(base.X_WE, base.solid.centre_m[None])
    R = make_turn(share * find_turn(second.X_WN[:3, :3] @ first.X_WN[:3, :3].T)) @ first.X_WN[:3, :3]
    begins, ends = (apply(pose.X_WN, pivot)[0] for pose in (first, second))
    place = begins + share * (ends - begins)
    return write_joints(first, children, blended, make_transform(R, place - R @ pivot[0]))


def turn_neutral(posing: Posing, pose: Pose, children: Iterable[str], share: float = 1.0) -> Pose:
    """These joints taken back to neutral, or that share of the way there, the others as they are."""
    own = tuple(children)
    for child in own:
        posing.find_row(child)
    angles = read_joints(posing, pose, own) * (1 - share)
    return write_joints(replace(pose), own, angles)
