"""Poses in time: frames, what is held on the way because of an envelope, what is beyond its range and where."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.skeleton.directions import list_directions
from core_calcs.skeleton.joint import Envelope
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.studies.pose_keyframes import ease_share, plan_keyframes
from core_calcs.studies.stops import measure_joint_inside


def first_limited(skeleton: Skeleton):
    return next(joint for joint in skeleton.joints if joint.moves and joint.limits is not None)


def at(joint, share: float) -> np.ndarray:
    """Flexion that share of the way to its end."""
    low, high = joint.limits[0].low.angle_rad, joint.limits[0].high.angle_rad
    return np.array([share * (high if share > 0 else -low), 0.0, 0.0])


def test_poses_lie_at_even_frames_and_ends_inside_stay_inside(box_document: tuple[SkeletonDocument, Path]) -> None:
    skeleton = box_document[0].skeleton
    joint = first_limited(skeleton)
    poses = [Pose(str(share), {joint.child: at(joint, share)}) for share in (-0.9, 0.9, 0.1)]
    planned = plan_keyframes(skeleton, poses, 5, 10, "smooth")
    assert planned.frames == (5, 15, 25)
    assert planned.worst is None
    assert planned.outside == 0


def test_the_worst_frame_is_where_it_is_farthest_beyond(box_document: tuple[SkeletonDocument, Path]) -> None:
    skeleton = box_document[0].skeleton
    joint = first_limited(skeleton)
    inside, outside = Pose("in", {joint.child: at(joint, 0.2)}), Pose("out", {joint.child: at(joint, 1.5)})
    planned = plan_keyframes(skeleton, [inside, outside, inside], 1, 8, "even")
    assert (planned.worst.frame, planned.worst.child) == (9, joint.child)
    assert planned.worst.beyond_rad == pytest.approx(-measure_joint_inside(joint, at(joint, 1.5)))
    assert planned.outside == 1
    assert not planned.held, "one of the poses is beyond: nothing is held that the user wants so"


def test_a_way_that_leaves_an_envelope_is_held_inside_it(box_document: tuple[SkeletonDocument, Path]) -> None:
    """An envelope that reaches far along the axes and little between them: from axis to axis the way leads outside."""
    skeleton = box_document[0].skeleton
    joint = first_limited(skeleton)
    ends = np.array([(axis.low.angle_rad, axis.high.angle_rad) for axis in joint.limits])
    along = np.abs(list_directions().directions).max(axis=1) > 0.97
    star = replace(joint, envelope=Envelope(ends, np.where(along, 1.0, 0.3)))
    joints = tuple(star if own is joint else own for own in skeleton.joints)
    skeleton = replace(skeleton, joints=joints)
    flexed, bent = np.array([0.9 * ends[0, 1], 0.0, 0.0]), np.array([0.0, 0.9 * ends[1, 1], 0.0])
    poses = [Pose("flexed", {joint.child: flexed}), Pose("bent", {joint.child: bent})]
    straight = measure_joint_inside(star, (flexed + bent) / 2)
    assert straight < -0.01, "half way it is outside"
    planned = plan_keyframes(skeleton, poses, 1, 20, "even")
    assert planned.worst is None
    frames = [own.frame for own in planned.held]
    assert 11 in frames
    assert 1 not in frames
    assert 21 not in frames
    for own in planned.held:
        assert own.child == joint.child
        assert measure_joint_inside(star, own.angles_rad) > -1e-6


def test_what_makes_no_movement_is_refused(box_document: tuple[SkeletonDocument, Path]) -> None:
    document = box_document[0]
    with pytest.raises(SkeletonError, match="1 poses make no movement"):
        plan_keyframes(document.skeleton, document.poses[:1], 1, 10, "even")
    name = document.skeleton.elements[1].name
    mounted = replace(document.poses[0], angles_rad={}, mounted={name: np.eye(4)})
    with pytest.raises(SkeletonError, match="keeps where elements were mounted"):
        plan_keyframes(document.skeleton, [document.poses[0], mounted], 1, 10, "even")


def test_both_ways_of_easing_begin_and_end_alike() -> None:
    for ease in ("smooth", "even"):
        assert [ease_share(share, ease) for share in (0.0, 0.5, 1.0)] == pytest.approx([0.0, 0.5, 1.0])
    assert ease_share(0.1, "smooth") < 0.1
