"""Poses mirrored, blended, taken back to neutral, brought into the ranges."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from core_calcs.skeleton.envelope import measure_inside
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.posing import bend_chain, prepare_posing
from core_calcs.studies.posing_edits import blend_poses, mirror_pose, nearest_allowed, to_neutral

NEUTRAL = Pose("neutral")


@pytest.fixture(scope="module")
def beast(box_document):
    return prepare_posing(box_document[0].skeleton)


def turn_about_z(angle):
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


def test_a_mirrored_pose_is_the_mirror_image(beast):
    """Every middle element's centre goes to its image; the whole stands turned, and keeps its heading."""
    X_WN = make_transform(turn_about_z(0.4), [1.0, 2.0, 0.1])
    pose = replace(bend_chain(beast, NEUTRAL, "neck", shares=(0.4, 0.8, 0.5)).pose, X_WN=X_WN)
    mirrored = mirror_pose(beast, pose)
    np.testing.assert_allclose(mirrored.X_WN, X_WN, atol=1e-12)
    before, after = (place_elements(beast.skeleton, p)[:, :3, 3] for p in (pose, mirrored))
    own = (before - X_WN[:3, 3]) @ X_WN[:3, :3]
    images = (own * (1, -1, 1)) @ X_WN[:3, :3].T + X_WN[:3, 3]
    middle = [i for i, e in enumerate(beast.skeleton.elements) if e.side == "middle"]
    # The box beast's ends differ by a degree from side to side: what is beyond the other one is held there.
    np.testing.assert_allclose(after[middle], images[middle], atol=1e-9)
    again = mirror_pose(beast, mirrored)
    for child, angles in pose.angles_rad.items():
        np.testing.assert_allclose(again.angles_rad[child], angles)


def test_a_leaning_body_leans_to_the_other_side(beast):
    roll = np.radians(10)
    c, s = np.cos(roll), np.sin(roll)
    X = make_transform(turn_about_z(0.7) @ [[1, 0, 0], [0, c, -s], [0, s, c]], [0.0, 0.0, 0.0])
    mirrored = mirror_pose(beast, Pose("leaning", X_WN=X))
    np.testing.assert_allclose(
        mirrored.X_WN[:3, :3], turn_about_z(0.7) @ [[1, 0, 0], [0, c, s], [0, -s, c]], atol=1e-12
    )
    assert np.linalg.det(mirrored.X_WN[:3, :3]) > 0


def test_half_way_between_two_poses(beast):
    one = bend_chain(beast, NEUTRAL, "neck", shares=(0.6, 0, 0)).pose
    other = replace(
        bend_chain(beast, NEUTRAL, "tail", shares=(0, 0.4, 0)).pose, X_WN=make_transform(turn_about_z(1.0), [2, 0, 0])
    )
    half = blend_poses(beast, one, other, 0.5)
    np.testing.assert_allclose(half.angles_rad["cervical 3"], one.angles_rad["cervical 3"] / 2)
    np.testing.assert_allclose(half.angles_rad["caudal 3"], other.angles_rad["caudal 3"] / 2)
    np.testing.assert_allclose(half.X_WN[:3, :3], turn_about_z(0.5), atol=1e-12)
    for share, end in ((0.0, one), (1.0, other)):
        blended = blend_poses(beast, one, other, share)
        np.testing.assert_allclose(blended.X_WN, end.X_WN, atol=1e-12)
        assert set(blended.angles_rad) == set(end.angles_rad)


def test_blended_envelopes_stay_inside(chains, rng):
    posing = prepare_posing(chains.make_column(20, seed=3))
    ends = [bend_chain(posing, NEUTRAL, "neck", shares=rng.uniform(-1, 1, 3)).pose for _ in range(6)]
    for one, other in pairwise(ends):
        blended = blend_poses(posing, one, other, 0.4)
        for joint in posing.skeleton.joints:
            angles = np.asarray(blended.angles_rad.get(joint.child, np.zeros(3)))
            assert measure_inside(joint.limits, joint.envelope, angles) >= 0


def test_a_chain_goes_back_to_neutral_and_the_rest_stays(beast):
    pose = bend_chain(
        beast, bend_chain(beast, NEUTRAL, "neck", shares=(0.5, 0, 0)).pose, "tail", shares=(0.5, 0, 0)
    ).pose
    back = to_neutral(beast, pose, "neck")
    assert set(back.angles_rad) == set(beast.find_chain("tail").children)
    half = to_neutral(beast, pose, share=0.5)
    np.testing.assert_allclose(half.angles_rad["caudal 1"], pose.angles_rad["caudal 1"] / 2)
    assert to_neutral(beast, pose).angles_rad == {}


def test_what_is_outside_is_brought_in_and_told(beast):
    pose = Pose("far", {"cervical 2": np.radians([30.0, 0, 0]), "caudal 2": np.radians([5.0, 0, 0])})
    allowed = nearest_allowed(beast, pose)
    assert [change.child for change in allowed.changes] == ["cervical 2"]
    change = allowed.changes[0]
    np.testing.assert_allclose(change.by_rad, np.radians(30 - 13))
    np.testing.assert_allclose(change.held.angles_rad, np.radians([13.0, 0, 0]))
    np.testing.assert_allclose(allowed.pose.angles_rad["cervical 2"], np.radians([13.0, 0, 0]))
    np.testing.assert_allclose(allowed.pose.angles_rad["caudal 2"], pose.angles_rad["caudal 2"])
    assert nearest_allowed(beast, allowed.pose).changes == ()
