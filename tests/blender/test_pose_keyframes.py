"""Poses as keyframes: the rig goes from one to the next, figures follow, an action that was there comes back."""

from __future__ import annotations

import math

import bpy
import numpy as np
import pytest
from scenes import Scene, take_bone

op = bpy.ops.counterpoise
LOW, HIGH = {"V3": np.array([0.3, 0.2, -0.1])}, {"V3": np.array([-0.4, 0.1, 0.2]), "V9": np.array([0.35, -0.3, 0.0])}


@pytest.fixture
def two(animal_scene: Scene) -> Scene:
    """Two poses, checked, that differ in joints and in where the whole stands; the rig at neutral."""
    moved = np.eye(4)
    moved[:2, :2] = [[math.cos(0.5), -math.sin(0.5)], [math.sin(0.5), math.cos(0.5)]]
    moved[:3, 3] = 0.4, -0.2, 0.1
    for name, angles, X_WN in (("low", LOW, np.eye(4)), ("high", HIGH, moved)):
        animal_scene.write_pose(angles, X_WN)
        assert op.save_pose(name=name) == {"FINISHED"}
    op.restore_pose(name="as scanned")
    for row in animal_scene.settings.poses:
        row.compared = row.name != "as scanned"
    return animal_scene


def see(scene: Scene, frame: int):
    bpy.context.scene.frame_set(frame)
    return scene.read_pose()


def assert_same(found, wanted, atol: float = 2e-5) -> None:
    for child in {*found.angles_rad, *wanted.angles_rad}:
        np.testing.assert_allclose(
            found.angles_rad.get(child, np.zeros(3)), wanted.angles_rad.get(child, np.zeros(3)), atol=atol
        )
    np.testing.assert_allclose(found.X_WN, wanted.X_WN, atol=atol)


@pytest.mark.parametrize("mode", ["YZX", "QUATERNION", "AXIS_ANGLE", "XYZ"])
def test_each_pose_is_met_at_its_frame(two: Scene, mode: str) -> None:
    for bone in two.rig.pose.bones:
        bone.rotation_mode = mode
    assert op.poses_to_keyframes(start=10, between=20) == {"FINISHED"}
    poses = {pose.name: pose for pose in two.document.poses}
    assert_same(see(two, 10), poses["low"])
    assert_same(see(two, 30), poses["high"])
    assert bpy.context.scene.frame_end >= 30


@pytest.mark.parametrize(("ease", "share"), [("smooth", 0.5 - 0.5 * math.cos(math.pi / 4)), ("even", 0.25)])
def test_between_poses_all_joints_go_in_step(two: Scene, ease: str, share: float) -> None:
    op.poses_to_keyframes(start=1, between=20, ease=ease)
    found = see(two, 6)
    zero = np.zeros(3)
    for child in ("V3", "V9"):
        wanted = LOW.get(child, zero) + share * (HIGH[child] - LOW.get(child, zero))
        np.testing.assert_allclose(found.angles_rad[child], wanted, atol=2e-4)
    np.testing.assert_allclose(found.X_WN[:3, :3] @ found.X_WN[:3, :3].T, np.eye(3), atol=1e-6)


def test_figures_follow_the_timeline(two: Scene) -> None:
    op.poses_to_keyframes(start=1, between=20)
    figures = two.part("bridge.figures")
    shown = []
    for frame in (1, 11, 21):
        bpy.context.scene.frame_set(frame)
        figures.refresh_figures(bpy.context)
        shown.append(figures.live_figures())
    assert len({own.centre for own in shown}) == 3
    saved = {own.pose: own for own in figures.saved_figures()}
    assert shown[0].centre == saved["low"].centre
    assert shown[2].centre == saved["high"].centre
    handlers = two.part("bridge.handlers")
    assert handlers.note_change in bpy.app.handlers.frame_change_post


def test_an_action_that_was_there_is_kept_and_comes_back(two: Scene) -> None:
    bone = two.bone_of("V3")
    bone.rotation_euler.x = 0.123
    bone.keyframe_insert("rotation_euler", frame=1)
    own = two.rig.animation_data.action
    before = two.read_pose()
    op.poses_to_keyframes(start=5, between=10)
    made = two.rig.animation_data.action
    assert made is not own
    assert made.name == "low to high"
    assert own.use_fake_user
    name = made.name
    op.poses_to_keyframes(start=5, between=12)
    assert [action.name for action in bpy.data.actions if action.name.startswith("low")] == [name], "made anew"
    assert op.remove_pose_keyframes() == {"FINISHED"}
    assert two.rig.animation_data.action is own
    assert name not in bpy.data.actions
    bpy.context.scene.frame_set(1)
    assert_same(two.read_pose(), before)


def test_removal_leaves_the_rig_as_it_stood(two: Scene) -> None:
    two.write_pose({"V5": np.array([0.2, 0.0, 0.1])})
    before = two.read_pose()
    op.poses_to_keyframes(start=1, between=10)
    bpy.context.scene.frame_set(7)
    op.remove_pose_keyframes()
    assert two.rig.animation_data.action is None
    assert_same(two.read_pose(), before, 1e-6)
    assert not op.remove_pose_keyframes.poll()


def test_a_joint_beyond_its_range_is_told_with_its_worst_frame(two: Scene, capfd) -> None:
    two.settings.hold_limits = False
    two.write_pose({"V3": np.array([0.6, 0.0, 0.0])})
    op.save_pose(name="high", overwrite=True)
    capfd.readouterr()
    op.poses_to_keyframes(start=1, between=20)
    said = capfd.readouterr().out
    assert "Worst at frame 21: V3, 11.5°" in said, "0.6 against a limit of 0.4 rad"


def test_what_makes_no_movement_is_refused(two: Scene) -> None:
    two.settings.poses[1].compared = False
    assert not op.poses_to_keyframes.poll()
    assert two.rig.animation_data is None or two.rig.animation_data.action is None


def test_undo_takes_the_keyframes_back(two: Scene) -> None:
    bpy.ops.ed.undo_push(message="before")
    op.poses_to_keyframes(start=1, between=20)
    bpy.ops.ed.undo_push(message="keyed")
    assert two.part("bridge.keyframes").find_keyframes(two.rig) is not None
    bpy.ops.ed.undo()
    assert two.part("bridge.keyframes").find_keyframes(two.rig) is None
    assert not two.read_pose().angles_rad
    bpy.ops.ed.redo()
    assert two.part("bridge.keyframes").find_keyframes(two.rig) is not None
    assert_same(see(two, 21), next(pose for pose in two.document.poses if pose.name == "high"))


def test_a_contact_that_went_meanwhile_is_not_let_off_when_the_keyframes_go(two: Scene) -> None:
    take_bone(two, "V9")
    op.add_contact(name="tail")
    op.let_bear(name="tail", bears=False)
    op.poses_to_keyframes(start=1, between=10)
    op.remove_contact(name="tail")
    take_bone(two, "V9")
    op.add_contact(name="tail")
    op.remove_pose_keyframes()
    assert two.read_pose().idle_feet == ()
