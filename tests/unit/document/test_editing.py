"""Changes to a document give a new one and keep the names of poses unique."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.build.build import Build, Material
from core_calcs.document import editing
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.errors import SkeletonError
from core_calcs.statics.site import Site


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
    ],
)
def test_names_that_are_taken_empty_or_unknown_are_refused(document, change):
    with pytest.raises(SkeletonError):
        change(document)


def test_an_unknown_pose_is_answered_with_those_there_are(document):
    with pytest.raises(SkeletonError, match="It holds: neutral, turned"):
        editing.find_pose(document, "nobody")


def test_build_and_site_are_replaced(document):
    build, site = Build(Material("iron", 7200.0, 50.0, "made up")), Site(ground_m=-1.0)
    changed = editing.set_site(editing.set_build(document, build), site)
    assert (changed.build, changed.site) == (build, site)
    assert document.build.material.name == "bronze"
    assert document.site.ground_m == 0.0
