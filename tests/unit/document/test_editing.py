"""Changes to a document give a new one and keep the names of poses unique."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.build import Build, Material
from core_calcs.document import editing
from core_calcs.site.site import Site
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.errors import SkeletonError


@pytest.fixture
def document(document):
    """With its two poses of joint angles alone."""
    return replace(document, poses=document.poses[:2])


def _names(document):
    return [pose.name for pose in document.poses]


def test_poses_are_added_replaced_renamed_and_removed(document):
    more = editing.add_pose(document, Pose("bold", note="first"))
    assert _names(more) == ["neutral", "turned", "bold"]
    other = editing.replace_pose(more, Pose("turned", {"caudal 1": np.array([0.2, 0.0, 0.0])}))
    assert _names(other) == ["neutral", "turned", "bold"]
    assert editing.find_pose(other, "turned").angles_rad["caudal 1"][0] == 0.2
    renamed = editing.rename_pose(other, "turned", "quiet")
    assert _names(renamed) == ["neutral", "quiet", "bold"]
    assert renamed.poses[1].angles_rad is other.poses[1].angles_rad
    assert _names(editing.rename_pose(renamed, "quiet", "quiet")) == ["neutral", "quiet", "bold"]
    assert _names(editing.remove_pose(renamed, "neutral")) == ["quiet", "bold"]
    assert _names(document) == ["neutral", "turned"]
    assert document.poses[1].angles_rad["caudal 1"][0] == 0.1


@pytest.mark.parametrize(
    ("name", "places", "wanted"),
    [("a", 1, "bac"), ("c", -1, "acb"), ("b", 0, "abc"), ("a", -1, "abc"), ("c", 5, "abc"), ("c", -9, "cab")],
)
def test_a_pose_moves_up_and_down_and_stays_at_the_ends(document, name, places, wanted):
    start = replace(document, poses=tuple(Pose(letter, note=letter) for letter in "abc"))
    moved = editing.move_pose(start, name, places)
    assert "".join(_names(moved)) == wanted
    assert {pose.name: pose.note for pose in moved.poses} == {"a": "a", "b": "b", "c": "c"}
    assert "".join(_names(start)) == "abc"


def test_a_copy_stands_after_its_pose_and_shares_nothing_but_its_values(document):
    noted = editing.note_pose(document, "turned", "as in the drawing")
    assert document.poses[1].note == "a note"
    copied = editing.duplicate_pose(noted, "turned", editing.propose_name(noted, "turned copy"))
    assert _names(copied) == ["neutral", "turned", "turned copy"]
    assert copied.poses[2].note == "as in the drawing"
    assert copied.poses[2].angles_rad == noted.poses[1].angles_rad
    again = editing.duplicate_pose(copied, "turned", editing.propose_name(copied, "turned copy"))
    assert _names(again) == ["neutral", "turned", "turned copy 2", "turned copy"]
    assert editing.note_pose(again, "turned copy", "").poses[3].note == ""


def test_the_first_free_name_is_proposed(document):
    assert editing.propose_name(document, "Pose") == "Pose"
    assert editing.propose_name(document, "turned") == "turned 2"
    assert editing.propose_name(editing.add_pose(document, Pose("turned 2")), "turned") == "turned 3"


@pytest.mark.parametrize(
    "change",
    [
        lambda d: editing.add_pose(d, Pose("turned")),
        lambda d: editing.add_pose(d, Pose("")),
        lambda d: editing.rename_pose(d, "turned", "neutral"),
        lambda d: editing.rename_pose(d, "turned", ""),
        lambda d: editing.rename_pose(d, "nobody", "somebody"),
        lambda d: editing.replace_pose(d, Pose("nobody")),
        lambda d: editing.remove_pose(d, "nobody"),
        lambda d: editing.find_pose(d, "nobody"),
        lambda d: editing.move_pose(d, "nobody", 1),
        lambda d: editing.note_pose(d, "nobody", "x"),
        lambda d: editing.duplicate_pose(d, "nobody", "other"),
        lambda d: editing.duplicate_pose(d, "turned", "neutral"),
        lambda d: editing.duplicate_pose(d, "turned", ""),
    ],
)
def test_names_that_are_taken_empty_or_unknown_are_refused(document, change):
    with pytest.raises(SkeletonError):
        change(document)


def test_angles_do_not_take_the_place_of_where_elements_were_mounted(document):
    mounted = Pose("before", mounted={"caudal 1": np.eye(4)})
    kept = editing.add_pose(document, mounted)
    with pytest.raises(SkeletonError, match="where elements were mounted"):
        editing.replace_pose(kept, Pose("before", {"caudal 1": np.zeros(3)}))
    assert editing.note_pose(kept, "before", "old").poses[-1].mounted is mounted.mounted
    assert editing.duplicate_pose(kept, "before", "copy").poses[-1].mounted is mounted.mounted


def test_an_unknown_pose_is_answered_with_those_there_are(document):
    with pytest.raises(SkeletonError, match="It holds: neutral, turned"):
        editing.find_pose(document, "nobody")


def test_build_and_site_are_replaced(document):
    build, site = Build(Material("iron", 7200.0, 50.0, "made up")), Site(ground_m=-1.0)
    changed = editing.set_site(editing.set_build(document, build), site)
    assert (changed.build, changed.site) == (build, site)
    assert document.build.material.name == "bronze"
    assert document.site.ground_m == 0.0
