"""The other side: a pose mirrored, one limb posed as its partner is.

The same number means the same movement on either side of the body, so partners exchange their angles; of what stands in
the middle the lateral and the axial angle change their sign.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ..skeleton.element_names import name_partner
from ..skeleton.pose import Pose
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply
from .attitudes import hold_attitude
from .posing import Posing, read_joints, write_joints

MIDDLE = np.array([1.0, -1.0, -1.0])
"""Flexion stays, lateral bending and axial turn go to the other side."""
_UPRIGHT = 1e-6


def mirror_pose(posing: Posing, pose: Pose) -> Pose:
    """The pose with left and right exchanged, mirrored where it stands: across the upright plane along the body.

    An element on one side without a partner keeps its angles. Where the ranges of two partners differ an angle is held
    inside that of the joint that takes it.
    """
    children = tuple(joint.child for joint in posing.skeleton.joints if joint.moves)
    angles = dict(zip(children, read_joints(posing, pose, children), strict=True))
    mirrored = np.array([_mirror_angles(posing, child, angles) for child in children]).reshape(-1, 3)
    return write_joints(pose, children, mirrored, _mirror_placement(posing, pose.X_WN))


def copy_side(posing: Posing, pose: Pose, children: Iterable[str]) -> Pose:
    """The pose with the partners of these joints turned as these are; the joints of a chain, say, of one limb.

    Raises
    ------
    SkeletonError : a joint whose child has no partner on the other side
    """
    own = [child for child in children if posing.skeleton.joints[posing.find_row(child)].moves]
    partners = [find_partner(posing, child) for child in own]
    for child, partner in zip(own, partners, strict=True):
        if partner is None:
            raise SkeletonError(child, "the skeleton has no such element on the other side", "name the two sides alike")
    asked = read_joints(posing, pose, own)
    held = [_hold(posing, str(partner), angles) for partner, angles in zip(partners, asked, strict=True)]
    return write_joints(pose, [str(partner) for partner in partners], np.array(held).reshape(-1, 3))


def find_partner(posing: Posing, child: str) -> str | None:
    """The child of the same joint on the other side, by name; None where there is none that turns."""
    other = name_partner(child)
    if other == child or other not in posing.rows:
        return None
    return other if posing.skeleton.joints[posing.rows[other]].moves else None


def _mirror_angles(posing: Posing, child: str, angles: dict[str, Array]) -> Array:
    partner = find_partner(posing, child)
    if partner is not None:
        return _hold(posing, child, angles[partner], angles[child])
    side = posing.skeleton.elements[posing.rows[child] + 1].side
    return _hold(posing, child, angles[child] * MIDDLE, angles[child]) if side == "middle" else angles[child]


def _hold(posing: Posing, child: str, asked: Array, now: Array | None = None) -> Array:
    if now is not None and np.array_equal(asked, now):
        return now
    return hold_attitude(posing.skeleton.joints[posing.rows[child]], asked).angles_rad


def _mirror_placement(posing: Posing, X_WN: Array) -> Array:
    """Across the upright plane through the root, along the body; the mid-plane at neutral becomes that plane."""
    base = posing.skeleton.root
    pivot = apply(base.X_WE, base.solid.centre_m[None])[0]
    middle = [apply(e.X_WE, e.solid.centre_m[None])[0][1] for e in posing.skeleton.elements if e.side == "middle"]
    pivot[1] = float(np.median(middle)) if middle else pivot[1]
    ahead = X_WN[:3, 0] * (1, 1, 0)
    if np.linalg.norm(ahead) < _UPRIGHT:
        ahead = np.array([1.0, 0.0, 0.0])
    across = np.cross([0.0, 0.0, 1.0], ahead / np.linalg.norm(ahead))
    at = apply(X_WN, pivot[None])[0]
    reflect, flip = np.eye(4), np.eye(4)
    reflect[:3, :3] -= 2 * np.outer(across, across)
    reflect[:3, 3] = 2 * across * (across @ at)
    flip[1, 1], flip[1, 3] = -1.0, 2 * pivot[1]
    X: Array = reflect @ X_WN @ flip
    return X
