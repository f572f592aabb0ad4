"""The table of ranges: what a joint allows, what a pose takes of it, and the sums along the column."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.skeleton.joint import AxisLimit, Joint, LimitSettings, Stop
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Skeleton, build_skeleton
from core_calcs.studies.assess import assess
from core_calcs.studies.ranges import JointRange, RangeTable, add_up_parts, list_ranges

Kept = tuple[SkeletonDocument, Path]


def exchange(skeleton: Skeleton, child: str, **changes: object) -> Skeleton:
    joints = tuple(replace(j, **changes) if j.child == child else j for j in skeleton.joints)  # type: ignore[arg-type]
    return build_skeleton(skeleton.name, skeleton.elements, joints, skeleton.feet)


def find(table: RangeTable, child: str) -> JointRange:
    return next(own for own in table.joints if own.joint.child == child)


@pytest.fixture(scope="module")
def table(box_document: Kept) -> RangeTable:
    document, _ = box_document
    return list_ranges(document.skeleton, document.poses)


def test_the_column_runs_from_the_head_to_the_tip_of_the_tail(table: RangeTable) -> None:
    names = [own.joint.child for own in table.column]
    neck, trunk, tail = (
        [f"{kind} {i}" for i in range(1, n + 1)] for kind, n in (("cervical", 5), ("dorsal", 6), ("caudal", 10))
    )
    assert names == ["skull", *neck, *trunk, *tail]
    assert [own.part for own in table.column] == ["skull", *5 * ["cervical"], *6 * ["dorsal"], *10 * ["caudal"]]
    assert table.others == ()
    legs = {f"{end} leg {side}" for end in ("hind", "fore") for side in "LR"}
    assert {joint.child for joint in table.fixed} == {"jaw", *legs}
    assert table.settings == ((LimitSettings(), 22),)


def test_both_ways_together_do_not_depend_on_where_neutral_is(table: RangeTable) -> None:
    """The boxes' limits are -12 to 13, -9 to 10, -4 to 5 degrees; shifted by 3 the sums are the same."""
    own = find(table, "caudal 1")
    assert [np.degrees(axis.both_rad) for axis in own.axes] == pytest.approx([25.0, 19.0, 9.0])
    assert [axis.open_ended for axis in own.axes] == [False, True, False]
    limits = own.joint.limits
    assert limits is not None
    moved = replace(
        own.axes[0],
        limit=AxisLimit(
            replace(limits[0].low, angle_rad=limits[0].low.angle_rad + np.radians(3)),
            replace(limits[0].high, angle_rad=limits[0].high.angle_rad + np.radians(3)),
        ),
    )
    assert moved.both_rad == pytest.approx(own.axes[0].both_rad)


def test_shares_are_signed_and_of_the_end_on_that_side(table: RangeTable) -> None:
    turned = find(table, "cervical 2").uses[1]
    assert [use.share for use in turned.axes] == pytest.approx([-6 / 12, 5 / 10, 1 / 5])
    assert turned.greatest_share == pytest.approx(0.5)
    assert turned.turned
    beyond = find(table, "caudal 3").uses[1]
    assert [use.share for use in beyond.axes] == pytest.approx([15 / 13, -3 / 9, 0.0])
    assert (beyond.state, np.degrees(beyond.axes[0].beyond_rad)) == ("fails", pytest.approx(2.0))
    still = find(table, "dorsal 1").uses[1]
    assert (still.turned, still.greatest_share, still.state) == (False, 0.0, "holds")


def test_use_is_what_the_assessment_finds(box_document: Kept, table: RangeTable) -> None:
    """Another way to the same figures: the check that panel and report of a pose show."""
    document, _ = box_document
    for i, pose in enumerate(document.poses):
        found = {use.child: use for use in assess(document.skeleton, pose, document.build, document.site).uses}
        for own in table.joints:
            use = found[own.joint.child]
            assert own.uses[i].inside_rad == use.inside_rad
            assert [axis.angle_rad for axis in own.uses[i].axes] == use.angles_rad.tolist()
            assert [axis.beyond_rad for axis in own.uses[i].axes] == pytest.approx(use.beyond_rad.tolist(), abs=1e-4)


def test_unknown_limits_are_not_zero(box_document: Kept) -> None:
    document, _ = box_document
    table = list_ranges(exchange(document.skeleton, "caudal 3", limits=None, settings=None), document.poses)
    own = find(table, "caudal 3")
    assert not own.known
    assert [axis.both_rad for axis in own.axes] == [None, None, None]
    assert [use.share for use in own.uses[1].axes] == [None, None, None]
    assert (own.uses[1].inside_rad, own.uses[1].greatest_share, own.uses[1].state) == (None, None, "not known")
    tail = next(own for own in add_up_parts(table) if own.part == "caudal")
    assert tail.both_rad == (None, None, None)


def test_a_held_axis_has_no_share(box_document: Kept) -> None:
    document, _ = box_document
    joint = document.skeleton.joint_of("caudal 3")
    held = AxisLimit(Stop(0.0, "held", None), Stop(0.0, "held", None))
    assert joint.limits is not None
    table = list_ranges(exchange(document.skeleton, "caudal 3", limits=(joint.limits[0], held, held)), document.poses)
    own = find(table, "caudal 3")
    assert [axis.held for axis in own.axes] == [False, True, True]
    assert own.uses[1].axes[1].share is None
    assert own.uses[1].axes[1].state == "fails"


def test_sums_along_the_parts(table: RangeTable) -> None:
    neck = next(own for own in add_up_parts(table) if own.part == "cervical")
    assert neck.joints == 5
    assert np.degrees(np.array(neck.both_rad, float)) == pytest.approx([125.0, 95.0, 45.0])
    assert neck.open_ended == (False, True, False)
    assert np.degrees(neck.angles_rad) == pytest.approx(np.array([[0, 0, 0], [-30, 25, 5]]))


def test_joints_that_the_surfaces_do_not_tell_stand_apart(box_document: Kept) -> None:
    document, _ = box_document
    skeleton = exchange(document.skeleton, "hind leg L", confidence="ambiguous", reason="a ball fits as well")
    table = list_ranges(skeleton, document.poses)
    assert [own.joint.child for own in table.ambiguous] == ["hind leg L"]
    assert table.ambiguous[0].uses == ()
    assert "hind leg L" not in {joint.child for joint in table.fixed}


def test_joints_of_a_limb_are_named_by_its_first(box_document: Kept) -> None:
    document, _ = box_document
    moving = document.skeleton.joint_of("caudal 3")
    skeleton = exchange(
        document.skeleton, "fore leg R", kind="limb", limits=moving.limits, settings=LimitSettings(search_rad=2.0)
    )
    table = list_ranges(skeleton, ())
    assert [(own.joint.child, own.part, own.uses) for own in table.others] == [("fore leg R", "fore leg R", ())]
    assert [count for _, count in table.settings] == [22, 1]


def test_a_pose_as_mounted_is_told_by_where_its_elements_stood(box_document: Kept) -> None:
    """Places of a pose of angles, kept as places: the same use of every joint, by the other way."""
    document, _ = box_document
    turned = document.poses[1]
    places = dict(
        zip((e.name for e in document.skeleton.elements), place_elements(document.skeleton, turned), strict=True)
    )
    table = list_ranges(document.skeleton, (turned, Pose("as mounted before", mounted=places)))
    assert table.mounted == ("as mounted before",)
    for own in table.joints:
        angles, stood = ([axis.angle_rad for axis in use.axes] for use in own.uses)
        assert stood == pytest.approx(angles, abs=1e-12)
        assert own.uses[0].state == own.uses[1].state


def test_joints_without_poses(box_document: Kept) -> None:
    document, _ = box_document
    table = list_ranges(document.skeleton, ())
    assert table.poses == ()
    assert all(own.uses == () for own in table.joints)
    assert all(own.angles_rad == () for own in add_up_parts(table))
    assert isinstance(table.fixed[0], Joint)
