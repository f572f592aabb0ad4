"""Setting a pose down."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.site.site import Site
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import apply, make_transform
from core_calcs.studies.stand import find_standing, stand_pose


def build_stool(random_skeletons, heights, spread=1.0):
    """One element on four point feet that end at the heights given."""
    solid = random_skeletons.make_solid(0.02, np.zeros(3), np.full(3, 0.2))
    element = random_skeletons.make_element("top", solid, make_transform(np.eye(3), [0.4, 0.1, 3]))
    plan = spread * np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]])
    feet = tuple(
        Foot(f"foot {k}", (Contact("top", np.array([[*plan[k], height]])),)) for k, height in enumerate(heights)
    )
    return build_skeleton("stool", (element,), (), feet)


def find_heights(skeleton, pose, site):
    X = place_elements(skeleton, pose)[0]
    return np.array([apply(X, foot.contacts[0].points_m)[0, 2] for foot in skeleton.feet]) - site.ground_m


@pytest.mark.parametrize("ground", [0.0, 1.25])
def test_lowest_point_comes_to_the_ground(random_skeletons, ground):
    site = Site(ground_m=ground)
    stool = build_stool(random_skeletons, [-1, -1.001, -0.998, -0.5])
    standing = find_standing(stool, Pose("p"), site)
    np.testing.assert_allclose(find_heights(stool, standing.pose, site), [0.001, 0, 0.003, 0.501], atol=1e-12)
    assert standing.feet == ("foot 0", "foot 1", "foot 2")
    assert standing.tilt_rad == 0
    assert standing.lift_m == pytest.approx(ground - 1.999)
    assert standing.tolerance_m == site.contact_tolerance_m


def test_level_tilts_no_more_than_it_must(random_skeletons):
    """Feet in a plane tilted by 3°: brought down by just that."""
    tilt = np.radians(3)
    stool = build_stool(random_skeletons, -1 + np.tan(tilt) * np.array([1, 1, -1, -1]))
    standing = find_standing(stool, Pose("p"), Site(), level=True)
    assert len(standing.feet) == 4
    assert standing.tilt_rad == pytest.approx(tilt, rel=1e-9)
    np.testing.assert_allclose(find_heights(stool, standing.pose, Site()), 0, atol=1e-12)
    R = standing.pose.X_WN[:3, :3]
    assert np.arccos((np.trace(R) - 1) / 2) == pytest.approx(tilt, rel=1e-6)


def test_level_leaves_feet_that_stand_alone(random_skeletons):
    stool = build_stool(random_skeletons, [-1, -1.001, -1.002, -1.003])
    assert find_standing(stool, Pose("p"), Site(), level=True).tilt_rad == 0


def test_level_keeps_a_lifted_foot_lifted(random_skeletons):
    stool = build_stool(random_skeletons, [-1.05, -1, -1, 0.5])
    standing = find_standing(stool, Pose("p"), Site(), level=True)
    assert standing.feet == ("foot 0", "foot 1", "foot 2")
    heights = find_heights(stool, standing.pose, Site())
    np.testing.assert_allclose(heights[:3], 0, atol=1e-12)
    assert heights[3] > 1


def test_level_does_not_turn_a_pose_over(random_skeletons):
    stool = build_stool(random_skeletons, [-2, -2, 0, 0])
    standing = find_standing(stool, Pose("p"), Site(), level=True)
    assert standing.tilt_rad == 0
    assert standing.feet == ("foot 0", "foot 1")


def test_same_pose_set_down_twice_stays(random_skeletons):
    stool = build_stool(random_skeletons, [-1, -1.02, -1, -1])
    once = stand_pose(stool, Pose("p", note="mine"), Site(), level=True)
    twice = stand_pose(stool, once, Site(), level=True)
    np.testing.assert_allclose(twice.X_WN, once.X_WN, atol=1e-12)
    assert (twice.name, twice.note) == ("p", "mine")


def test_skeleton_without_feet_cannot_be_set_down(random_skeletons):
    stool = build_stool(random_skeletons, [])
    with pytest.raises(SkeletonError, match="no feet"):
        stand_pose(stool, Pose("p"), Site())
