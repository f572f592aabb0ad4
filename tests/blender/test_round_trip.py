"""Turned through every bone and back: the core's angles and Blender's agree to 1e-5 rad, places to 1e-5 of the size."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import inside_limits, random_rotation

ANGLE_RAD = 1e-5
SHARE_OF_SIZE = 1e-5


def assert_agrees(scene, pose) -> None:
    """Rig and core agree on a pose that the add-on has written."""
    found = scene.read_pose()
    for joint in scene.moving_joints():
        wanted = pose.angles_rad.get(joint.child, np.zeros(3))
        np.testing.assert_allclose(found.angles_rad.get(joint.child, np.zeros(3)), wanted, rtol=0, atol=ANGLE_RAD)
    np.testing.assert_allclose(found.X_WN[:3, :3], pose.X_WN[:3, :3], rtol=0, atol=ANGLE_RAD)
    size = scene.size_m()
    np.testing.assert_allclose(found.X_WN[:3, 3], pose.X_WN[:3, 3], rtol=0, atol=SHARE_OF_SIZE * size)
    places, directions = scene.place_error(pose)
    assert places < SHARE_OF_SIZE * size
    assert directions < ANGLE_RAD


def test_every_bone_alone(animal_scene) -> None:
    rng = np.random.default_rng(1)
    joints = animal_scene.moving_joints()
    assert len(joints) == 11
    for joint in joints:
        assert_agrees(animal_scene, animal_scene.write_pose({joint.child: inside_limits(joint, rng)}))
    assert_agrees(animal_scene, animal_scene.write_pose({}))


def test_every_bone_at_once_and_the_whole_moved(animal_scene) -> None:
    rng = np.random.default_rng(2)
    for _ in range(5):
        X_WN = np.eye(4)
        X_WN[:3, :3], X_WN[:3, 3] = random_rotation(rng), rng.uniform(-1, 1, 3)
        angles = {joint.child: inside_limits(joint, rng) for joint in animal_scene.moving_joints()}
        assert_agrees(animal_scene, animal_scene.write_pose(angles, X_WN))


def test_every_bone_through_the_table(animal_scene) -> None:
    """Channels set by hand as docs/conventions.md says: X flexion, Z lateral, Y axial, order YZX, senses applied."""
    rng = np.random.default_rng(3)
    for joint in animal_scene.moving_joints():
        animal_scene.write_pose({})
        angles = inside_limits(joint, rng)
        flexion, lateral, axial = angles * joint.senses
        bone = animal_scene.bone_of(joint.child)
        assert bone.rotation_mode == "YZX"
        bone.rotation_euler = (flexion, axial, lateral)
        found = animal_scene.read_pose().angles_rad
        assert set(found) == {joint.child}
        np.testing.assert_allclose(found[joint.child], angles, rtol=0, atol=ANGLE_RAD)


def test_ends_of_every_limit_come_back(animal_scene) -> None:
    """A pose saved at a limit is not nudged by the constraint that holds it there."""
    for end in ("low", "high"):
        angles = {
            joint.child: np.array([getattr(limit, end).angle_rad for limit in joint.limits])
            for joint in animal_scene.moving_joints()
        }
        assert_agrees(animal_scene, animal_scene.write_pose(angles))


@pytest.mark.parametrize("metres_per_unit", [0.01, 1.0, 10.0])
def test_the_scenes_unit_is_honoured(animal_files, part, metres_per_unit: float) -> None:
    import scenes

    bpy.context.scene.unit_settings.scale_length = metres_per_unit
    scene = scenes.import_animal(part, *animal_files)
    root = scene.rig.data.bones[scene.bone_of("V5").name]
    np.testing.assert_allclose(root.head_local[2] * metres_per_unit, 0.4, atol=1e-4)
    rng = np.random.default_rng(4)
    angles = {joint.child: inside_limits(joint, rng) for joint in scene.moving_joints()}
    X_WN = np.eye(4)
    X_WN[:3, 3] = (0.3, -0.2, 0.1)
    assert_agrees(scene, scene.write_pose(angles, X_WN))


def test_moving_the_rig_moves_the_whole(animal_scene) -> None:
    rng = np.random.default_rng(5)
    pose = animal_scene.write_pose({j.child: inside_limits(j, rng) for j in animal_scene.moving_joints()})
    animal_scene.rig.location = (1.0, 2.0, 3.0)
    animal_scene.rig.rotation_euler = (0.0, 0.0, np.pi / 2)
    found = animal_scene.read_pose()
    wanted = np.array([[0, -1, 0, 1], [1, 0, 0, 2], [0, 0, 1, 3], [0, 0, 0, 1]], float)
    np.testing.assert_allclose(found.X_WN, wanted, rtol=0, atol=1e-6)
    for child, angles in pose.angles_rad.items():
        np.testing.assert_allclose(found.angles_rad[child], angles, rtol=0, atol=ANGLE_RAD)
    assert_agrees(animal_scene, animal_scene.write_pose(pose.angles_rad))  # written in the world, wherever the rig is


def test_quaternion_bones_are_read_and_written(animal_scene) -> None:
    rng = np.random.default_rng(6)
    for bone in animal_scene.rig.pose.bones:
        bone.rotation_mode = "QUATERNION"
    angles = {joint.child: inside_limits(joint, rng) for joint in animal_scene.moving_joints()}
    assert_agrees(animal_scene, animal_scene.write_pose(angles))


def test_fixed_elements_ride_on_their_nearest_moving_ancestor(animal_scene) -> None:
    bones = {bone.get("counterpoise_element") for bone in animal_scene.rig.data.bones} - {None}
    assert bones == {"V5", *(joint.child for joint in animal_scene.moving_joints())}
    rider = next(o for o in bpy.context.scene.objects if o.get("counterpoise_element") == "V1")
    assert rider.parent_bone == animal_scene.bone_of("V2").name


def test_a_bone_that_points_back_along_its_parent_keeps_its_frame_square(animal_scene) -> None:
    """Leg bones hang straight down from the column's, which lie level; set one to point 170° back along V2."""
    import scenes

    scenes.set_joint("leg V2 left", (0.18, 0.07, 0.39), (0, 1, 0), (-0.985, 0, -0.174), ((-0.5, 0.5),) * 3)
    rng = np.random.default_rng(7)
    angles = {joint.child: inside_limits(joint, rng) for joint in animal_scene.moving_joints()}
    assert_agrees(animal_scene, animal_scene.write_pose(angles))


def test_a_joint_by_hand_shows_no_rounding_and_keeps_what_was_not_changed(animal_scene) -> None:
    """A centre a thousandth of a millimetre off the plane is shown as 0.00000, without a sign, and stays there."""
    import scenes

    child, off = "leg V2 left", -1e-6
    scenes.set_joint(child, (0.18, off, 0.39), (0, 1, 0), (0, 0, -1), ((-0.5, 0.5),) * 3)
    before = animal_scene.document.skeleton.joint_of(child)
    shown = animal_scene.part("operators.joints").drop_rounding("centre", before.X_WJ[:3, 3])
    assert shown[1] == 0
    assert not np.signbit(shown).any()
    scenes.set_joint(child, tuple(map(float, shown)), (0, 1, 0), (0, 0, -1), ((-0.4, 0.5),) * 3)
    after = animal_scene.document.skeleton.joint_of(child)
    assert after.X_WJ[1, 3] == pytest.approx(off, rel=1e-6)
    assert after.limits[0].low.angle_rad == pytest.approx(-0.4)
