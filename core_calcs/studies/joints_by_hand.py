"""Joints set by hand in a document: the skeleton and the saved poses change together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from ..articulation.by_hand import fix_joint, set_joint
from ..document.document import SkeletonDocument
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array


def square_axes(child: str, flexion_axis: ArrayLike, long_axis: ArrayLike) -> Array:
    """Joint axes (3, 3), columns x, y, z, from a flexion axis and a long axis that need not be quite at right angles.

    The flexion axis is kept; the long axis gives way.

    Raises
    ------
    SkeletonError : one of them is zero or not finite, or they are parallel
    """
    x, y = np.asarray(flexion_axis, float), np.asarray(long_axis, float)
    if not (np.isfinite(x).all() and np.isfinite(y).all() and np.linalg.norm(x) > 0 and np.linalg.norm(y) > 0):
        raise SkeletonError(f"joint of {child}", "one of its axes is no direction", "give two directions")
    x, y = x / np.linalg.norm(x), y / np.linalg.norm(y)
    y = y - (x @ y) * x
    if np.linalg.norm(y) < 1e-3:
        raise SkeletonError(f"joint of {child}", "its flexion and long axis are parallel", "give two directions")
    y /= np.linalg.norm(y)
    return np.stack([x, y, np.cross(x, y)], axis=1)


def set_document_joint(
    document: SkeletonDocument,
    child: str,
    centre: ArrayLike,
    axes: ArrayLike,
    limits: Sequence[tuple[float, float]],
    reason: str,
    senses: tuple[int, int, int] | None = None,
) -> SkeletonDocument:
    """The document with one joint set by hand, see `articulation.by_hand.set_joint`; saved angles stay."""
    return _exchange(document, set_joint(document.skeleton, child, centre, axes, limits, reason, senses))


def fix_document_joint(document: SkeletonDocument, child: str, reason: str) -> SkeletonDocument:
    """The document with one joint fixed: saved poses lose its angles."""
    return _exchange(document, fix_joint(document.skeleton, child, reason))


def keep_turning(pose: Pose, skeleton: Skeleton) -> Pose:
    """The pose with the angles of those joints alone that a skeleton can turn."""
    moving = {joint.child for joint in skeleton.joints if joint.moves}
    return replace(pose, angles_rad={child: turn for child, turn in pose.angles_rad.items() if child in moving})


def _exchange(document: SkeletonDocument, skeleton: Skeleton) -> SkeletonDocument:
    poses = tuple(keep_turning(pose, skeleton) for pose in document.poses)
    return replace(document, skeleton=skeleton, poses=poses)
