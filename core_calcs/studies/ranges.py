"""What every joint allows and how poses use it: the one table that report, CSV and command line show."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..skeleton.element import Series, Side
from ..skeleton.joint import AXES, AxisLimit, Joint, LimitSettings
from ..skeleton.kinematics import joint_motions, measure_angles
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from .assessment import JointUse, State
from .column import list_column_joints
from .stops import AxisUse, judge_range, measure_joint_inside, use_axes


@dataclass(frozen=True, eq=False)
class AxisRange:
    """What a joint allows about one axis.

    axis : flexion, lateral or axial
    limit : its two ends; None where they are not known
    """

    axis: str
    limit: AxisLimit | None

    @property
    def held(self) -> bool:
        """Whether the joint does not turn about this axis at all."""
        return self.limit is not None and self.limit.low.angle_rad == self.limit.high.angle_rad

    @property
    def both_rad(self) -> float | None:
        """Both ways together: how it splits between the two depends on how the bones were laid out."""
        return None if self.limit is None else self.limit.high.angle_rad - self.limit.low.angle_rad

    @property
    def open_ended(self) -> bool:
        """Whether the search went as far as it was told to and met nothing: the range is at least this."""
        return self.limit is not None and "search range" in (self.limit.low.reason, self.limit.high.reason)


@dataclass(frozen=True, eq=False)
class PoseUse:
    """How one pose uses one joint.

    axes : flexion, lateral, axial
    inside_rad : how far inside the bony range, all axes together: to its boundary, below zero outside; None: not known
    state : `holds` inside, `close` at the boundary, `fails` outside, `not known` without limits
    """

    pose: str
    axes: tuple[AxisUse, ...]
    inside_rad: float | None
    state: State

    @property
    def turned(self) -> bool:
        """Whether the joint is not at neutral."""
        return any(abs(use.angle_rad) > _STILL_RAD for use in self.axes)

    @property
    def greatest_share(self) -> float | None:
        """Of the way to the end, about the axis that uses most of it; None where no limit is known."""
        shares = [abs(use.share) for use in self.axes if use.share is not None]
        return max(shares, default=None)


_STILL_RAD = float(np.radians(0.005))
"""Below this an angle of two decimals reads zero."""


@dataclass(frozen=True, eq=False)
class JointRange:
    """What one joint allows, and how every pose uses it.

    part : of the skeleton: the series along the column, else the limb, named by its first joint that turns
    uses : one for each pose, in order
    """

    joint: Joint
    series: Series
    side: Side
    part: str
    axes: tuple[AxisRange, ...]
    uses: tuple[PoseUse, ...]

    @property
    def known(self) -> bool:
        """Whether its limits are known."""
        return self.joint.limits is not None


@dataclass(frozen=True, eq=False)
class RangeTable:
    """All joints that turn, and those of which it is not known how they would.

    poses : names, in order
    mounted : of those that keep where elements were mounted, joints or not
    column : from the head to the tip of the tail
    others : those off the column, in the order of the skeleton
    ambiguous : joints that are fixed because their surfaces do not tell how they turn; no pose uses them
    fixed : all others that do not turn
    """

    poses: tuple[str, ...]
    mounted: tuple[str, ...]
    column: tuple[JointRange, ...]
    others: tuple[JointRange, ...]
    ambiguous: tuple[JointRange, ...]
    fixed: tuple[Joint, ...]

    @property
    def joints(self) -> tuple[JointRange, ...]:
        """All that turn."""
        return (*self.column, *self.others)

    @property
    def settings(self) -> tuple[tuple[LimitSettings, int], ...]:
        """What limits were computed with, and of how many joints; the commonest first."""
        return tuple(Counter(own.joint.settings for own in self.joints if own.joint.settings).most_common())


@dataclass(frozen=True)
class PartSum:
    """Ranges of one part of the column added up, and what a pose takes of them.

    both_rad : of flexion, lateral, axial; None where a joint's is not known
    open_ended : about which axes a joint's search met nothing, so that the sum is at least this
    angles_rad : flexion, lateral, axial added up in every pose, in order
    """

    part: str
    joints: int
    both_rad: tuple[float | None, ...]
    open_ended: tuple[bool, ...]
    angles_rad: tuple[tuple[float, ...], ...]


def list_ranges(skeleton: Skeleton, poses: Sequence[Pose]) -> RangeTable:
    """The ranges of all joints and how these poses use them."""
    column = list_column_joints(skeleton)
    place = {child: i for i, child in enumerate((*column.forward, *column.backward))}
    parts = _name_parts(skeleton, set(place))
    elements = {element.name: element for element in skeleton.elements}
    angles = [_list_angles(skeleton, pose) for pose in poses]

    def describe(joint: Joint) -> JointRange:
        axes = tuple(AxisRange(axis, joint.limits[i] if joint.limits else None) for i, axis in enumerate(AXES))
        uses = tuple(
            use_joint(joint, pose.name, turned[joint.child])
            for pose, turned in zip(poses, angles, strict=True)
            if joint.moves
        )
        element = elements[joint.child]
        return JointRange(joint, element.series, element.side, parts[joint.child], axes, uses)

    found = [describe(joint) for joint in skeleton.joints if joint.moves or joint.confidence == "ambiguous"]
    turning = [own for own in found if own.joint.moves]
    along = sorted((own for own in turning if own.joint.child in place), key=lambda own: place[own.joint.child])
    return RangeTable(
        tuple(pose.name for pose in poses),
        tuple(pose.name for pose in poses if pose.mounted),
        tuple(along),
        tuple(own for own in turning if own.joint.child not in place),
        tuple(own for own in found if not own.joint.moves),
        tuple(joint for joint in skeleton.joints if not joint.moves and joint.confidence != "ambiguous"),
    )


def _list_angles(skeleton: Skeleton, pose: Pose) -> dict[str, Array]:
    """Angles (3,) [rad] of every joint that turns; of a pose as mounted those at which the elements stand."""
    turning = [i for i, joint in enumerate(skeleton.joints, start=1) if joint.moves]
    names = [skeleton.joints[i - 1].child for i in turning]
    if pose.mounted:
        found = measure_angles(skeleton, joint_motions(skeleton, pose), turning)
        return dict(zip(names, found, strict=True))
    return {name: np.asarray(pose.angles_rad.get(name, np.zeros(3)), float) for name in names}


def use_joint(joint: Joint, pose: str, angles_rad: Array) -> PoseUse:
    """How a pose that turns a joint to these angles (3,) uses its range."""
    axes = use_axes(joint, angles_rad)
    inside = measure_joint_inside(joint, angles_rad)
    beyond = None if joint.limits is None else np.array([use.beyond_rad for use in axes])
    return PoseUse(pose, axes, inside, judge_range(JointUse(joint.child, angles_rad, beyond, inside)))


def add_up_parts(table: RangeTable) -> tuple[PartSum, ...]:
    """The ranges along the column, added up by its parts from the head on."""
    sums = []
    for part in dict.fromkeys(own.part for own in table.column):
        joints = [own for own in table.column if own.part == part]
        both = [[own.axes[axis].both_rad for own in joints] for axis in range(3)]
        sums.append(
            PartSum(
                part,
                len(joints),
                tuple(None if None in axis else float(sum(angle or 0.0 for angle in axis)) for axis in both),
                tuple(any(own.axes[axis].open_ended for own in joints) for axis in range(3)),
                tuple(
                    tuple(float(sum(own.uses[pose].axes[axis].angle_rad for own in joints)) for axis in range(3))
                    for pose in range(len(table.poses))
                ),
            )
        )
    return tuple(sums)


def _name_parts(skeleton: Skeleton, column: set[str]) -> dict[str, str]:
    """Which part of the skeleton every joint belongs to, by its child."""
    series = {element.name: element.series for element in skeleton.elements}
    parts: dict[str, str] = {}
    limbs: dict[str, str] = {}
    for joint in skeleton.joints:
        limb = limbs.get(joint.parent, "")
        if series[joint.child] in ("limb", "girdle") and joint.child not in column:
            limbs[joint.child] = limb or (joint.child if joint.moves else "")
            parts[joint.child] = limbs[joint.child] or series[joint.child]
        else:
            parts[joint.child] = series[joint.child]
    return parts
