"""Bones edited, poses and transforms applied: told before a wrong figure is shown, and built again as seen."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

op = bpy.ops.counterpoise


@pytest.fixture
def bent(animal_scene):
    """Turned, moved and in hand."""
    animal_scene.write_pose({"V3": (0.2, 0.0, 0.0), "V7": (0.1, 0.05, 0.0)})
    bpy.context.view_layer.objects.active = animal_scene.rig
    animal_scene.rig.select_set(True)
    return animal_scene


def lift_head(rig) -> None:
    bpy.ops.object.mode_set(mode="EDIT")
    rig.data.edit_bones["V3"].head.z += 0.05
    bpy.ops.object.mode_set(mode="OBJECT")


def roll_bone(rig) -> None:
    bpy.ops.object.mode_set(mode="EDIT")
    rig.data.edit_bones["V3"].roll += 0.1
    bpy.ops.object.mode_set(mode="OBJECT")


def apply_transform(rig) -> None:
    rig.location, rig.rotation_euler = (1.0, 0.0, 0.5), (0.0, 0.0, 0.5)
    bpy.ops.object.transform_apply(location=True, rotation=True, scale=True)


def apply_scale(rig) -> None:
    rig.scale = (2.0, 2.0, 2.0)
    bpy.ops.object.transform_apply(location=False, rotation=False, scale=True)


def apply_pose(_rig) -> None:
    bpy.ops.object.mode_set(mode="POSE")
    bpy.ops.pose.armature_apply(selected=False)
    bpy.ops.object.mode_set(mode="OBJECT")


@pytest.mark.parametrize("change", [lift_head, roll_bone, apply_transform, apply_scale, apply_pose])
def test_it_is_told_and_building_again_keeps_the_pose(bent, part, change) -> None:
    """Angles are kept, and where the whole stands, also where Ctrl A has moved it into the bones."""
    pose, figures = bent.read_pose(), part("bridge.figures")
    change(bent.rig)
    bpy.context.view_layer.update()
    figures.refresh_figures(bpy.context)
    assert figures.live_figures() is None
    assert "do not rest in the joints of" in figures.current_problem()
    with pytest.raises(RuntimeError, match="build the rig again"):
        op.save_pose(name="wrong")
    assert op.build_rig() == {"FINISHED"}
    found = bent.read_pose()
    for child, angles in pose.angles_rad.items():
        np.testing.assert_allclose(found.angles_rad[child], angles, rtol=0, atol=1e-5)
    moved = np.eye(4)
    if change is apply_transform:
        c, s = np.cos(0.5), np.sin(0.5)
        moved = np.array([[c, -s, 0, 1.0], [s, c, 0, 0], [0, 0, 1, 0.5], [0, 0, 0, 1]])
    np.testing.assert_allclose(found.X_WN, moved, rtol=0, atol=1e-6)
    assert bent.place_error(found)[0] < 1e-5 * bent.size_m()
    figures.refresh_figures(bpy.context)
    assert figures.current_problem() == ""
