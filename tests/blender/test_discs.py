"""Discs as thick as the user says, through the operator: rig and elements follow, angles stay, undo takes it back."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
import scenes
from scenes import Scene

WHY = "no cartilage on the scans"
ANGLES = {"L3": np.array([0.02, 0.01, 0.0])}


def head_of(column: Scene, element: str) -> np.ndarray:
    """Where a bone's rest head stands [m]."""
    bone = column.bone_of(element).bone
    return np.array(column.rig.matrix_world @ bone.head_local) * bpy.context.scene.unit_settings.scale_length


def gap_of(column: Scene, element: str) -> float:
    return column.document.skeleton.joint_of(element).gap_m


def place_of(column: Scene, element: str) -> np.ndarray:
    skeleton = column.document.skeleton
    return skeleton.elements[skeleton.index(element)].X_WE[:3, 3]


def test_element_bone_and_limits_follow_and_angles_stay(column: Scene) -> None:
    text = column.text_but("records")
    column.write_pose(ANGLES)
    was, head, place = gap_of(column, "L3"), head_of(column, "L3"), place_of(column, "L3")
    bounds = column.bounds_of("L3")
    unit = bpy.context.scene.unit_settings.scale_length
    given = {"child": "L3", "thickness": 0.5 * was / unit, "reason": WHY}
    assert bpy.ops.counterpoise.disc_thickness(**given) == {"FINISHED"}
    assert gap_of(column, "L3") == pytest.approx(0.5 * was, rel=1e-6)
    moved = place_of(column, "L3") - place
    assert np.linalg.norm(moved) == pytest.approx(0.5 * was, rel=1e-3)
    np.testing.assert_allclose(head_of(column, "L3"), head + moved / 2, atol=1e-5)  # the middle of the disc
    assert np.abs(column.bounds_of("L3") - bounds).max() > np.radians(0.5)
    pose = column.read_pose()
    np.testing.assert_allclose(pose.angles_rad["L3"], ANGLES["L3"], atol=1e-5)
    places, directions = column.place_error(pose)
    assert places < 1e-5 * column.size_m()
    assert directions < 1e-5
    assert bpy.ops.counterpoise.disc_thickness(child="L3", as_scanned=True) == {"FINISHED"}
    assert column.text_but("records") == text
    records = [(record.action, record.elements, record.why) for record in column.document.records]
    assert records == [("disc", ("L3",), WHY), ("put back", ("L3",), "")]


def test_the_panel_tells_it(column: Scene) -> None:
    scenes.take_bone(column, "L3")
    column.part("bridge.figures").refresh_figures(bpy.context)
    shown = column.part("bridge.joint_in_hand").show_in_hand
    assert shown(bpy.context).disc.endswith("mm thick at neutral, as scanned")
    unit = bpy.context.scene.unit_settings.scale_length
    assert bpy.ops.counterpoise.disc_thickness(thickness=0.018 / unit, reason=WHY) == {"FINISHED"}
    assert bpy.context.mode == "POSE"
    assert shown(bpy.context).disc == f"Disc 18 mm thick at neutral, as set: {WHY}"


@pytest.mark.parametrize(("scope", "child"), [("COLUMN", ""), ("SERIES", "L2")])
def test_several_at_once(column: Scene, scope: str, child: str) -> None:
    unit = bpy.context.scene.unit_settings.scale_length
    given = {"scope": scope, "child": child, "thickness": 0.03 / unit, "reason": WHY}
    assert bpy.ops.counterpoise.disc_thickness(**given) == {"FINISHED"}
    discs = [joint.disc for joint in column.document.skeleton.joints if joint.disc is not None]
    assert [disc.thickness_m for disc in discs] == pytest.approx([0.03, 0.03])
    assert {disc.reason for disc in discs} == {WHY}


def test_one_undo_takes_it_back(column: Scene) -> None:
    bpy.ops.ed.undo_push(message="before")
    text, head = column.settings.document.as_string(), head_of(column, "L3")
    unit = bpy.context.scene.unit_settings.scale_length
    bpy.ops.counterpoise.disc_thickness(scope="COLUMN", thickness=0.03 / unit, reason=WHY)
    bpy.ops.ed.undo_push(message="set")
    assert np.abs(head_of(column, "L3") - head).max() > 1e-3
    bpy.ops.ed.undo()
    again = Scene(column.part)
    assert again.settings.document.as_string() == text
    np.testing.assert_allclose(head_of(again, "L3"), head, atol=1e-7)
    bpy.ops.ed.redo()
    assert gap_of(Scene(column.part), "L3") == pytest.approx(0.03)
    places, _ = Scene(column.part).place_error(Scene(column.part).read_pose())
    assert places < 1e-5 * column.size_m()


@pytest.mark.parametrize(
    ("given", "what"),
    [
        ({"child": "L3", "thickness": 0.02}, "without a reason"),
        ({"child": "L3", "reason": WHY}, "no thickness is given"),
        ({"child": "L3", "thickness": 1e6, "reason": WHY}, "unit"),
        ({"child": "L3", "as_scanned": True}, "as scanned"),
        ({"child": "L1", "thickness": 0.02, "reason": WHY}, "root has no joint"),
        ({"thickness": 0.02, "reason": WHY}, "none is in hand"),
        ({"scope": "COLUMN", "as_scanned": True}, "no disc is set"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_changes(column: Scene, given: dict, what: str) -> None:
    text = column.settings.document.as_string()
    with pytest.raises(RuntimeError, match=what):
        bpy.ops.counterpoise.disc_thickness(**given)
    assert column.settings.document.as_string() == text
