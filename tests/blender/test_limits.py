"""Limits as constraints: they hold the evaluated pose, whatever the channels say, or let go on request."""

from __future__ import annotations

import numpy as np
import pytest

HELD_RAD = 3e-5
"""What the constraints leave beyond a limit: their slack and the bone's own frame in single precision."""


def turn(scene, child: str, angles: np.ndarray) -> np.ndarray:
    """Set a bone's channels and return the joint angles that Blender evaluates."""
    joint = scene.document.skeleton.joint_of(child)
    flexion, lateral, axial = angles * np.array(joint.senses)
    scene.bone_of(child).rotation_euler = (flexion, axial, lateral)
    return scene.read_pose().angles_rad.get(child, np.zeros(3))


@pytest.mark.parametrize("child", ["V4", "leg V2 left", "leg V2 right"])
@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("end", ["low", "high"])
def test_a_bone_stops_at_its_limit(animal_scene, child: str, axis: int, end: str) -> None:
    limit = getattr(animal_scene.document.skeleton.joint_of(child).limits[axis], end).angle_rad
    angles = np.zeros(3)
    angles[axis] = 2 * limit
    found = turn(animal_scene, child, angles)
    wanted = np.zeros(3)
    wanted[axis] = limit
    np.testing.assert_allclose(found, wanted, rtol=0, atol=HELD_RAD)
    angles[axis] = 0.9 * limit
    np.testing.assert_allclose(turn(animal_scene, child, angles), angles, rtol=0, atol=1e-5)


def test_limits_let_go_when_they_are_only_to_be_shown(animal_scene, part) -> None:
    animal_scene.settings.hold_limits = False
    angles = np.array([0.8, 0.0, 0.0])
    np.testing.assert_allclose(turn(animal_scene, "V4", angles), angles, rtol=0, atol=1e-5)
    figures = part("bridge.figures")
    import bpy

    figures.refresh_figures(bpy.context)
    assert figures.live_figures().outside == "1 of 11"
    animal_scene.settings.hold_limits = True
    assert turn(animal_scene, "V4", angles)[0] == pytest.approx(0.4, abs=HELD_RAD)
    figures.refresh_figures(bpy.context)
    assert figures.live_figures().outside == "0 of 11"


def test_a_new_rig_keeps_the_choice(animal_scene) -> None:
    import bpy

    animal_scene.settings.hold_limits = False
    bpy.ops.counterpoise.build_rig()
    limits = [c for b in animal_scene.rig.pose.bones for c in b.constraints]
    assert len(limits) == 11
    assert all(limit.mute for limit in limits)
