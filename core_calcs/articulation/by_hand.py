"""Joints set by the user: any attachment may be given a centre, axes and limits, or be fixed, with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from ..skeleton.joint import AXES, AxisLimit, Joint, Stop
from ..skeleton.tree import Skeleton, build_skeleton
from ..spatial.errors import SkeletonError
from ..spatial.rotations import LATERAL_RAD, TOGETHER_RAD
from ..spatial.transforms import is_rigid, make_transform

_MARGIN_RAD = 1e-3
"""Limits stay so far (0.06°) below what would make their angles ambiguous: a single-precision rig holds no more."""


def set_joint(
    skeleton: Skeleton,
    child: str,
    centre: ArrayLike,
    axes: ArrayLike,
    limits: Sequence[tuple[float, float]],
    reason: str,
    senses: tuple[int, int, int] | None = None,
) -> Skeleton:
    """Give a child's attachment a centre, axes and limits by hand.

    Parameters
    ----------
    centre : (3,) [m], world of the neutral articulation
    axes : (3, 3) its columns x (flexion axis), y (long axis of the child away from the parent) and z = x × y, world
    limits : (low, high) [rad] for flexion, lateral, axial, each with low <= 0 <= high; (0, 0) holds an axis, so that
        a hinge has two of them
    reason : why, in the user's words
    senses : +1 or -1 for flexion, lateral, axial (see spatial.rotations); None keeps the joint's own

    Returns
    -------
    A new skeleton; facets stay with the joint as evidence.

    Raises
    ------
    SkeletonError : no such child, the root, no reason, axes that are not right-handed and orthonormal, limits that are
        not finite or do not straddle zero, limits that leave nothing to turn, limits so wide that the same attitude has
        two sets of angles within reach
    """
    joint = skeleton.joint_of(child)
    words = _require_reason(child, reason)
    X_WJ = make_transform(np.asarray(axes, float), np.asarray(centre, float))
    if not is_rigid(X_WJ, 1e-6):
        what = "its axes are not three right-handed unit directions at right angles, or its centre is not a point"
        raise SkeletonError(f"joint of {child}", what, "give x and y at right angles and z = x × y")
    stops = _make_limits(child, limits)
    changed = replace(
        joint, kind="by hand", X_WJ=X_WJ, senses=senses or joint.senses, limits=stops, confidence="by hand",
        reason=words, settings=None, also=None, envelope=None,
    )  # fmt: skip
    return _exchange(skeleton, changed)


def fix_joint(skeleton: Skeleton, child: str, reason: str) -> Skeleton:
    """Fix a child to its parent; centre and facets stay on record.

    Raises
    ------
    SkeletonError : no such child, the root, no reason
    """
    joint = skeleton.joint_of(child)
    words = _require_reason(child, reason)
    changed = replace(
        joint, kind="fixed", limits=None, envelope=None, confidence="by hand", reason=words, settings=None
    )
    return _exchange(skeleton, changed)


def _require_reason(child: str, reason: str) -> str:
    if not reason.strip():
        raise SkeletonError(f"joint of {child}", "it is set by hand without a reason", "write why")
    return reason.strip()


def _make_limits(child: str, limits: Sequence[tuple[float, float]]) -> tuple[AxisLimit, AxisLimit, AxisLimit]:
    if len(limits) != 3 or any(len(pair) != 2 for pair in limits):
        raise SkeletonError(f"joint of {child}", "it needs a low and a high limit for each of three axes", "give six")
    made = []
    for axis, (low, high) in zip(AXES, limits, strict=True):
        if not (np.isfinite(low) and np.isfinite(high) and low <= 0 <= high):
            what = f"its {axis} limits {low:g} and {high:g} rad do not include the neutral angle"
            raise SkeletonError(f"joint of {child}", what, "give low <= 0 <= high")
        made.append(AxisLimit(Stop(float(low), "by hand", None), Stop(float(high), "by hand", None)))
    if all(limit.low.angle_rad == limit.high.angle_rad for limit in made):
        raise SkeletonError(f"joint of {child}", "its limits leave nothing to turn", "widen one, or fix the joint")
    _require_unique(child, limits)
    return made[0], made[1], made[2]


def _require_unique(child: str, limits: Sequence[tuple[float, float]]) -> None:
    """Refuse limits within which one attitude has two sets of angles: a rig would hold it by the wrong ones."""
    reach = [max(abs(low), abs(high)) for low, high in limits]
    shown = [f"{np.degrees(angle):.4g}°" for angle in (*reach, sum(reach))]
    round_about = [i for i in (0, 2) if reach[i] > np.pi + _MARGIN_RAD]
    if round_about:
        axis = round_about[0]
        what = f"its {AXES[axis]} limit of {shown[axis]} is more than half a turn: that attitude has a lesser angle"
        remedy = "give limits from -180° to 180°"
    elif reach[1] > LATERAL_RAD - _MARGIN_RAD:
        what = f"its lateral limit is {shown[1]}, but at 90° flexion and axial turn become the same movement"
        remedy = "give a lateral limit below 90°, or take that movement for the flexion"
    elif sum(reach) > TOGETHER_RAD - _MARGIN_RAD:
        far = f"{shown[0]}, {shown[1]} and {shown[2]}, {shown[3]} together"
        what = f"its limits go to {far}: from 270° on one attitude has two sets of angles"
        remedy = "give less to one of them"
    else:
        return
    raise SkeletonError(f"joint of {child}", what, remedy)


def _exchange(skeleton: Skeleton, changed: Joint) -> Skeleton:
    joints = tuple(changed if joint.child == changed.child else joint for joint in skeleton.joints)
    return build_skeleton(skeleton.name, skeleton.elements, joints, skeleton.feet, skeleton.left_out)
