"""A joint's frame shown as an empty, moved by Blender's own means, taken over with a reason, or put away."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from mathutils import Matrix
from scenes import Scene, scene_contents, set_joint, take_bone

TURN = np.array(Matrix.Rotation(0.2, 3, (0.2, 1.0, -0.4)))
SHIFT = np.array([0.004, -0.002, -0.02])


def move(empty: bpy.types.Object, turn: np.ndarray = TURN, shift: np.ndarray = SHIFT) -> None:
    """As G and R would, in the scene's axes."""
    X = np.array(empty.matrix_world, float)
    X[:3, :3], X[:3, 3] = turn @ X[:3, :3], X[:3, 3] + shift
    empty.matrix_world = Matrix(X.tolist())
    bpy.context.view_layer.update()


def test_the_frame_stands_where_the_parent_carries_it(column: Scene) -> None:
    X_WN = np.eye(4)
    X_WN[:3, 3] = (0.2, 0.1, -0.3)
    pose = column.write_pose({"L2": np.array([0.1, 0.0, 0.02]), "L3": np.array([0.05, 0.03, 0.0])}, X_WN)
    assert bpy.ops.counterpoise.show_frame(child="L3") == {"FINISHED"}
    empty = bpy.context.active_object
    assert empty.type == "EMPTY"
    skeleton = column.document.skeleton
    motions = column.part("core_calcs.skeleton.kinematics").joint_motions(skeleton, pose)
    wanted = motions[skeleton.index("L2")] @ skeleton.joint_of("L3").X_WJ
    bpy.context.view_layer.update()
    np.testing.assert_allclose(np.array(empty.matrix_world), wanted, atol=2e-6)


def test_moved_and_taken_over_in_a_pose(column: Scene) -> None:
    """Held against the core's kinematics; limits are others, saved and live angles stay, the empty is gone."""
    angles = {"L2": np.array([0.1, 0.0, 0.02]), "L3": np.array([0.05, 0.03, 0.0])}
    pose = column.write_pose(angles)
    bpy.ops.counterpoise.save_pose(name="bent")
    skeleton, before = column.document.skeleton, scene_contents()
    joint, limits = skeleton.joint_of("L3"), column.bounds_of("L3")
    motion = column.part("core_calcs.skeleton.kinematics").joint_motions(skeleton, pose)[skeleton.index("L2")]
    bpy.ops.counterpoise.show_frame(child="L3")
    move(bpy.context.active_object)
    assert bpy.ops.counterpoise.take_frame(reason="the condyle is broken") == {"FINISHED"}
    after = column.document.skeleton.joint_of("L3")
    wanted = motion @ joint.X_WJ
    wanted[:3, :3], wanted[:3, 3] = TURN @ wanted[:3, :3], wanted[:3, 3] + SHIFT
    np.testing.assert_allclose(motion @ after.X_WJ, wanted, atol=2e-6)
    assert (after.kind, after.confidence, after.reason) == ("column", "by hand", "the condyle is broken")
    assert np.abs(column.bounds_of("L3") - limits).max() > np.radians(1)
    np.testing.assert_array_equal(column.document.poses[-1].angles_rad["L3"], pose_angles(column, "bent"))
    np.testing.assert_allclose(column.read_pose().angles_rad["L3"], angles["L3"], atol=1e-5)
    assert scene_contents() == before
    places, _ = column.place_error(column.read_pose())
    assert places < 1e-5


def pose_angles(scene: Scene, name: str) -> np.ndarray:
    return next(pose for pose in scene.document.poses if pose.name == name).angles_rad["L3"]


def test_a_move_alone_does_not_turn_it(column: Scene) -> None:
    known = column.document.skeleton.joint_of("L3").X_WJ
    bpy.ops.counterpoise.show_frame(child="L3")
    move(bpy.context.active_object, turn=np.eye(3))
    bpy.ops.counterpoise.take_frame(reason="by eye")
    after = column.document.skeleton.joint_of("L3").X_WJ
    np.testing.assert_array_equal(after[:3, :3], known[:3, :3])
    np.testing.assert_allclose(after[:3, 3] - known[:3, 3], SHIFT, atol=1e-6)


@pytest.mark.parametrize("how", ["put away", "undone", "deleted"])
def test_cancelled_it_leaves_nothing(column: Scene, how: str) -> None:
    text, before = column.settings.document.as_string(), scene_contents()
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.counterpoise.show_frame(child="L3")
    bpy.ops.ed.undo_push(message="shown")
    move(bpy.context.active_object)
    if how == "put away":
        assert bpy.ops.counterpoise.drop_frame() == {"FINISHED"}
        assert column.part("bridge.joint_in_hand").find_in_hand(bpy.context) == "L3"
    elif how == "undone":
        bpy.ops.ed.undo()
    else:
        bpy.ops.object.delete()
    scene = Scene(column.part)
    assert scene.settings.document.as_string() == text
    assert scene_contents() == before
    assert not bpy.ops.counterpoise.take_frame.poll()


def test_what_cannot_be_taken_over_is_told(column: Scene) -> None:
    text = column.settings.document.as_string()
    bpy.ops.counterpoise.show_frame(child="L3")
    with pytest.raises(RuntimeError, match="stands where the document has it"):
        bpy.ops.counterpoise.take_frame(reason="by eye")
    move(bpy.context.active_object)
    with pytest.raises(RuntimeError, match="without a reason"):
        bpy.ops.counterpoise.take_frame(reason=" ")
    bpy.context.active_object.scale = (2, 2, 2)
    with pytest.raises(RuntimeError, match="scaled or mirrored"):
        bpy.ops.counterpoise.take_frame(reason="by eye")
    assert column.settings.document.as_string() == text


def test_limits_set_by_hand_stay(column: Scene) -> None:
    set_joint("L3", (-0.25, 0, 0.3), (0, -1, 0), (-1, 0, 0), ((-0.1, 0.1),) * 3)
    take_bone(column, "L3")
    assert bpy.ops.counterpoise.show_frame() == {"FINISHED"}
    in_hand = column.part("bridge.joint_in_hand").find_in_hand
    assert in_hand(bpy.context) == "L3"
    move(bpy.context.active_object)
    assert bpy.ops.counterpoise.take_frame(reason="by eye") == {"FINISHED"}
    np.testing.assert_allclose(column.bounds_of("L3"), [[-0.1, 0.1]] * 3, rtol=1e-6)
    assert column.document.skeleton.joint_of("L3").reason == "by eye"
    assert bpy.context.mode == "POSE"
    assert in_hand(bpy.context) == "L3"
