"""Poses one after the other as keyframes: what each joint does on the way, and where that leaves its range.

Angles go from pose to pose each by itself, all of them in step, so that between two poses inside the box of a joint's
limits it stays inside. An envelope may be entered by a straight way from one side and left on the other: where both
poses are inside and the way is not, the joint is held, frame by frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from ..posing.attitudes import hold_attitude
from ..posing.bounds import lie_within, make_bounds
from ..skeleton.joint import Joint
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array
from .stops import measure_joint_inside

FEWEST = 2
"""So many poses at least make a way."""

Ease = Literal["smooth", "even"]
"""Whether the animal rests in each pose, or goes through it at an even speed."""

ROUNDING_RAD = 1e-5
"""What is beyond its range by less stands at its boundary."""


@dataclass(frozen=True, eq=False)
class HeldKey:
    """Where a joint is held on the way: its angles (3,) [rad] in one frame between poses."""

    frame: int
    child: str
    angles_rad: Array


@dataclass(frozen=True)
class WorstBetween:
    """Where a joint is farthest beyond its bony range."""

    frame: int
    child: str
    beyond_rad: float


@dataclass(frozen=True, eq=False)
class PoseKeyframes:
    """Poses and their frames, in order.

    held : keys between them
    worst : over every frame from the first to the last, the poses' own included; None where no joint leaves its range
    outside : so many joints do, in some frame; unknown : so many have no known limits
    """

    frames: tuple[int, ...]
    poses: tuple[Pose, ...]
    held: tuple[HeldKey, ...]
    worst: WorstBetween | None
    outside: int
    unknown: int


def plan_keyframes(skeleton: Skeleton, poses: Sequence[Pose], start: int, between: int, ease: Ease) -> PoseKeyframes:
    """Lay poses out in time. start : frame of the first; between : frames from one to the next, 1 or more

    Raises
    ------
    SkeletonError : fewer than two poses, or one that keeps where elements were mounted
    """
    if len(poses) < FEWEST:
        raise SkeletonError("keyframes", f"{len(poses)} poses make no movement", "check two or more in the list")
    for pose in poses:
        if pose.mounted:
            what = "it keeps where elements were mounted, and turns no joint"
            raise SkeletonError(f"pose {pose.name}", what, "leave it out")
    frames = tuple(start + i * between for i in range(len(poses)))
    joints = [joint for joint in skeleton.joints if joint.moves and joint.limits is not None]
    unknown = sum(joint.moves for joint in skeleton.joints) - len(joints)
    held, beyond = _follow_way(joints, poses, frames, ease)
    worst = max(beyond, key=lambda own: own.beyond_rad, default=None)
    return PoseKeyframes(frames, tuple(poses), held, worst, len({own.child for own in beyond}), unknown)


def ease_share(share: float, ease: Ease) -> float:
    """How much of the way is gone after that share of the time."""
    return float(0.5 - 0.5 * np.cos(np.pi * share)) if ease == "smooth" else share


def _follow_way(
    joints: Sequence[Joint], poses: Sequence[Pose], frames: Sequence[int], ease: Ease
) -> tuple[tuple[HeldKey, ...], list[WorstBetween]]:
    """Where joints are held on the way, and where they are beyond their ranges all the same."""
    bounds = make_bounds(joints)
    ends = np.array([[pose.angles_rad.get(joint.child, np.zeros(3)) for joint in joints] for pose in poses], float)
    ends = ends.reshape(len(poses), len(joints), 3)
    held: list[HeldKey] = []
    beyond: list[WorstBetween] = []
    allowed = np.ones(ends.shape[:2], bool)
    for pose, (frame, angles) in enumerate(zip(frames, ends, strict=True)):
        for i in np.flatnonzero(~lie_within(bounds, angles, ROUNDING_RAD)).tolist():
            allowed[pose, i] = not _note_beyond(joints[i], angles[i], frame, beyond)
    for one, other in pairwise(range(len(poses))):
        for frame in range(frames[one] + 1, frames[other]):
            share = ease_share((frame - frames[one]) / (frames[other] - frames[one]), ease)
            angles = ends[one] + share * (ends[other] - ends[one])
            for i in np.flatnonzero(~lie_within(bounds, angles, ROUNDING_RAD)).tolist():
                if not (allowed[one, i] and allowed[other, i]):
                    _note_beyond(joints[i], angles[i], frame, beyond)
                elif not np.array_equal(ends[one, i], ends[other, i]):
                    held.append(HeldKey(frame, joints[i].child, hold_attitude(joints[i], angles[i]).angles_rad))
    return tuple(held), beyond


def _note_beyond(joint: Joint, angles: Array, frame: int, beyond: list[WorstBetween]) -> bool:
    """Whether a joint is beyond its range by more than rounding; noted where it is."""
    inside = measure_joint_inside(joint, angles)
    if inside is None or inside >= -ROUNDING_RAD:
        return False
    beyond.append(WorstBetween(frame, joint.child, -inside))
    return True
