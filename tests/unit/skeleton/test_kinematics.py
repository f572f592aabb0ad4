"""Where a pose puts every element."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.skeleton.kinematics import joint_motions, measure_angles, place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import invert, make_transform


@pytest.mark.parametrize("count", [2, 60])
def test_places_agree_with_mujoco(random_skeletons, mujoco_oracle, rng, count):
    """Origins and axes of all joint frames, from an independent library."""
    from core_calcs.build.materials import default_build

    skeleton = random_skeletons.make_random_skeleton(count, rng, 0)
    pose = random_skeletons.make_random_pose(skeleton, rng)
    model = mujoco_oracle.make_model(skeleton, default_build())
    data = mujoco_oracle.pose_model(model, skeleton, pose)
    motions = joint_motions(skeleton, pose)
    for i, joint in enumerate(skeleton.joints, start=1):
        X = motions[i] @ joint.X_WJ
        at = model.body(joint.child).id
        np.testing.assert_allclose(X[:3, 3], data.xpos[at], atol=1e-11)
        np.testing.assert_allclose(X[:3, :3], data.xmat[at].reshape(3, 3), atol=1e-12)


def test_neutral_pose_moves_nothing(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(20, rng)
    places = place_elements(skeleton, Pose("neutral"))
    np.testing.assert_array_equal(places, np.stack([element.X_WE for element in skeleton.elements]))


def test_placement_moves_the_whole(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(20, rng)
    pose = random_skeletons.make_random_pose(skeleton, rng)
    X = make_transform(random_skeletons.make_rotation(rng), [1, 2, 3])
    np.testing.assert_allclose(
        place_elements(skeleton, replace(pose, X_WN=X)), X @ place_elements(skeleton, pose), atol=1e-12
    )


def test_what_is_fixed_rides_along(random_skeletons, rng):
    """Every second joint fixed: the same as the motions multiplied along the tree, joint by joint."""
    skeleton = random_skeletons.make_random_skeleton(40, rng)
    joints = tuple(replace(joint, kind="fixed") if i % 2 else joint for i, joint in enumerate(skeleton.joints))
    skeleton = build_skeleton("half fixed", skeleton.elements, joints)
    pose = Pose("p", {joint.child: rng.uniform(-1, 1, 3) for joint in skeleton.joints if joint.moves})
    expected = {skeleton.root.name: np.eye(4)}
    for joint in skeleton.joints:
        turn = make_transform(joint_rotation(pose.angles_rad.get(joint.child, np.zeros(3)), joint.senses), np.zeros(3))
        expected[joint.child] = expected[joint.parent] @ joint.X_WJ @ turn @ invert(joint.X_WJ)
    motions = joint_motions(skeleton, pose)
    for element, motion in zip(skeleton.elements, motions, strict=True):
        np.testing.assert_allclose(motion, expected[element.name], rtol=0, atol=1e-12)


def test_child_turns_about_its_joint_and_its_parent_stays(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(20, rng)
    joint = skeleton.joints[7]
    angles = np.array([0.3, -0.2, 0.5])
    motions = joint_motions(skeleton, Pose("one", {joint.child: angles}))
    i = skeleton.index(joint.child)
    expected = joint.X_WJ @ make_transform(joint_rotation(angles, joint.senses), np.zeros(3)) @ invert(joint.X_WJ)
    np.testing.assert_allclose(motions[i], expected, atol=1e-14)
    centre = [*joint.X_WJ[:3, 3], 1]
    np.testing.assert_allclose(motions[i] @ centre, centre, atol=1e-14)
    np.testing.assert_array_equal(motions[skeleton.index(joint.parent)], np.eye(4))


@pytest.mark.parametrize(
    ("angles", "told"),
    [
        ({"nobody": np.zeros(3)}, "nobody"),
        ({"e0": np.zeros(3)}, "e0"),
        ({"e1": np.zeros(2)}, "three numbers"),
        ({"e1": np.array([0, np.nan, 0])}, "three numbers"),
    ],
)
def test_pose_that_fits_no_joint_is_refused(random_skeletons, rng, angles, told):
    skeleton = random_skeletons.make_random_skeleton(5, rng)
    with pytest.raises(SkeletonError, match=told):
        joint_motions(skeleton, Pose("faulty", angles))


def test_fixed_joint_keeps_still_or_complains(random_skeletons, rng):
    free = random_skeletons.make_random_skeleton(5, rng)
    joints = tuple(replace(joint, kind="fixed") if joint.child == "e2" else joint for joint in free.joints)
    skeleton = build_skeleton("s", free.elements, joints)
    np.testing.assert_array_equal(joint_motions(skeleton, Pose("p", {"e2": np.zeros(3)}))[2], np.eye(4))
    with pytest.raises(SkeletonError, match="fixed"):
        joint_motions(skeleton, Pose("p", {"e2": np.array([0, 0, 0.1])}))


def test_angles_are_measured_from_where_the_elements_stand(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(40, rng)
    pose = random_skeletons.make_random_pose(skeleton, rng)
    motions = joint_motions(skeleton, pose)
    moving = [i for i, joint in enumerate(skeleton.joints, start=1) if joint.moves]
    measured = measure_angles(skeleton, motions, moving)
    wanted = np.array([pose.angles_rad.get(skeleton.elements[i].name, np.zeros(3)) for i in moving])
    senses = np.array([skeleton.joints[i - 1].senses for i in moving])
    np.testing.assert_allclose(joint_rotation(measured, senses), joint_rotation(wanted, senses), atol=1e-12)


def test_a_pose_as_mounted_puts_elements_where_they_stood(random_skeletons, rng):
    """What is named stands there, whatever the joints say; what is not stands against its parent as at neutral."""
    skeleton = random_skeletons.make_random_skeleton(20, rng)
    X_WN = make_transform(random_skeletons.make_rotation(rng), rng.normal(size=3))
    named = [skeleton.elements[i].name for i in (0, 3, 7)]
    mounted = {name: make_transform(random_skeletons.make_rotation(rng), rng.normal(size=3)) for name in named}
    placed = place_elements(skeleton, Pose("as mounted before", {}, X_WN, mounted=mounted))
    at = {element.name: i for i, element in enumerate(skeleton.elements)}
    for name in named:
        np.testing.assert_allclose(placed[at[name]], X_WN @ mounted[name], atol=1e-12)
    for i, parent in enumerate(skeleton.parents):
        if skeleton.elements[i].name not in named:
            child, above = (skeleton.elements[k].X_WE for k in (i, parent))
            np.testing.assert_allclose(invert(placed[parent]) @ placed[i], invert(above) @ child, atol=1e-9)


def test_a_pose_as_mounted_names_elements_and_no_angles(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(5, rng)
    turned = next(joint.child for joint in skeleton.joints if joint.moves)
    with pytest.raises(SkeletonError, match="which is no element"):
        joint_motions(skeleton, Pose("mounted", mounted={"nobody": np.eye(4)}))
    with pytest.raises(SkeletonError, match="both angles of joints and places"):
        joint_motions(skeleton, Pose("mounted", {turned: np.zeros(3)}, mounted={turned: np.eye(4)}))
    with pytest.raises(SkeletonError, match="not rigid"):
        joint_motions(skeleton, Pose("mounted", mounted={turned: np.diag([1.0, -1.0, 1.0, 1.0])}))
