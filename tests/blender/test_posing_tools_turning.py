"""Turn Joint by mouse, by numbers and from a script: it holds at limits and can be taken back whole."""

from __future__ import annotations

from types import SimpleNamespace

import bpy
import numpy as np
import pytest
import scenes
from mathutils import Matrix
from posing_drive import PosingDrive, angles, channels
from scenes import Scene

op = bpy.ops.counterpoise


@pytest.fixture
def turning(animal_scene: Scene, part) -> PosingDrive:
    """Turn Joint begun on V3, whose axes go from -0.5 to 0.4 rad."""
    scenes.take_bone(animal_scene, "V3")
    return PosingDrive(part, part("operators.turning").COUNTERPOISE_OT_turn_joint)


def test_a_script_turns_a_joint_and_leaves_the_other_axes(animal_scene: Scene) -> None:
    animal_scene.write_pose({"V3": np.array([0.1, 0.2, 0.0])})
    assert op.turn_joint(element="V3", flexion=0.3) == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx([0.3, 0.2, 0.0], abs=1e-5)


def test_it_holds_at_the_limit_or_goes_on_as_the_scene_says(animal_scene: Scene) -> None:
    op.turn_joint(element="V3", flexion=0.9)
    assert angles(animal_scene)[0] == pytest.approx(0.4, abs=2e-4)
    animal_scene.settings.hold_limits = False
    op.turn_joint(element="V3", flexion=0.9)
    assert angles(animal_scene)[0] == pytest.approx(0.9, abs=1e-5)


@pytest.mark.parametrize(
    ("element", "message"),
    [("V1", "its joint is fixed"), ("nobody", "no element of that name"), ("", "none is in hand")],
)
def test_what_does_not_turn_is_refused(animal_scene: Scene, element: str, message: str) -> None:
    before = channels(animal_scene)
    with pytest.raises(RuntimeError, match=message):
        op.turn_joint(element=element, flexion=0.1)
    assert channels(animal_scene) == before


def test_the_mouse_turns_it_as_the_view_shows_it(turning: PosingDrive, animal_scene: Scene) -> None:
    """Seen from the animal's right, its head to the right: the bone's tip goes with the mouse, down to the belly."""
    assert turning.begin(500, 300) == {"RUNNING_MODAL"}
    middle = turning.tool.middle
    turning.tool.mouse = middle + np.array((100, 0))
    before = np.array(animal_scene.bone_of("V3").tail)
    turning.move(*(middle + 100 * np.array([np.cos(0.2), -np.sin(0.2)])))
    bpy.context.view_layer.update()
    assert angles(animal_scene)[0] == pytest.approx(0.2, abs=1e-5)
    assert animal_scene.bone_of("V3").tail[2] < before[2]
    assert turning.lines == ("V3", "flexion 11.5°")


def test_at_its_limit_it_says_why_and_returns_with_the_mouse(turning: PosingDrive, animal_scene: Scene) -> None:
    turning.begin(500, 300)
    turning.press("FIVE", "ZERO")
    assert turning.lines == ("V3", "flexion 22.9°", "flexion stops at 22.9°: set by hand", "typed: 50°")
    turning.press("BACK_SPACE")
    assert turning.lines == ("V3", "flexion 5.0°", "typed: 5°")
    turning.press("MINUS")
    assert angles(animal_scene)[0] == pytest.approx(np.radians(-5), abs=1e-5)


def test_where_the_scene_only_warns_it_says_how_far_beyond(turning: PosingDrive, animal_scene: Scene) -> None:
    animal_scene.settings.hold_limits = False
    turning.begin(500, 300)
    turning.press("Z", "FIVE", "ZERO")
    assert turning.lines[1:3] == ("lateral 50.0°", "lateral 27.1° beyond its stop at 22.9°: set by hand")
    assert angles(animal_scene)[1] == pytest.approx(np.radians(50), abs=1e-5)


def test_another_axis_begins_where_the_joint_was(turning: PosingDrive, animal_scene: Scene) -> None:
    turning.begin(500, 300)
    turning.press("ONE", "ZERO")
    turning.press("BACK_SPACE", "BACK_SPACE", "A", "TWO")
    assert angles(animal_scene) == pytest.approx([0, 0, np.radians(2)], abs=1e-5)
    assert turning.press("RET") == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx([0, 0, np.radians(2)], abs=1e-5)
    assert turning.lines == ()
    assert turning.texts[-1] is None
    assert turning.area.texts[-1] is None


def test_axes_turned_one_after_the_other_combine(turning: PosingDrive, animal_scene: Scene) -> None:
    """Each from where the joint stands by then; the same key again takes that axis back to where it was."""
    animal_scene.write_pose({"V3": np.radians([2.0, 3.0, 0.0])})
    turning.begin(500, 300)
    turning.press("ONE", "ZERO", "Y", "FIVE")
    assert turning.lines == ("V3", "axial 5.0°, flexion 10.0°", "typed: 5°")
    turning.press("Z", "MINUS", "FOUR")
    assert angles(animal_scene) == pytest.approx(np.radians([10, -4, 5]), abs=1e-5)
    turning.press("Z")
    assert angles(animal_scene) == pytest.approx(np.radians([10, 3, 5]), abs=1e-5)
    assert turning.press("RET") == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx(np.radians([10, 3, 5]), abs=1e-5)


def test_an_axis_goes_on_where_another_has_stopped(turning: PosingDrive, animal_scene: Scene) -> None:
    """What was asked for beyond a limit does not stop the next axis short."""
    turning.begin(500, 300)
    turning.press("FIVE", "ZERO", "A", "TWO", "ZERO")
    assert angles(animal_scene) == pytest.approx([0.4, 0, np.radians(20)], abs=2e-4)


def test_the_axes_go_with_a_turn_that_is_kept(turning: PosingDrive, part) -> None:
    """Lateral and axial turns are about axes that flexion has carried along, flexion is about its own."""
    joint_axes = part("bridge.rig_in_hand").joint_axes
    turning.begin(500, 300)
    before = joint_axes(turning.tool.hand, "V3")[1]
    turning.press("TWO", "ZERO", "Z")
    after = joint_axes(turning.tool.hand, "V3")[1]
    carried = np.array(Matrix.Rotation(np.radians(20), 3, before[0].tolist()))
    np.testing.assert_allclose(after, before @ carried.T, atol=1e-5)
    assert abs(after[1] @ before[1]) < 0.95


def test_ctrl_goes_in_steps(turning: PosingDrive, animal_scene: Scene) -> None:
    turning.begin(500, 300)
    turning.tool.mouse = turning.tool.middle + np.array((100, 0))
    turning.move(*(turning.tool.middle + 100 * np.array([np.cos(0.2), -np.sin(0.2)])), ctrl=True)
    assert angles(animal_scene)[0] == pytest.approx(np.radians(10), abs=1e-5)


@pytest.mark.parametrize("key", ["ESC", "RIGHTMOUSE"])
def test_esc_puts_every_channel_back(turning: PosingDrive, animal_scene: Scene, key: str) -> None:
    animal_scene.bone_of("V4").rotation_euler = (0.123, 0.1, -0.2)
    bpy.context.view_layer.update()
    before = channels(animal_scene)
    turning.begin(500, 300)
    turning.press("TWO", "ZERO")
    assert channels(animal_scene) != before
    assert turning.press(key) == {"CANCELLED"}
    assert channels(animal_scene) == before
    assert turning.lines == ()


def test_a_tool_begun_by_a_button_waits_for_the_mouse_over_the_view(turning: PosingDrive, animal_scene: Scene) -> None:
    """The sidebar covers the right of the view: what the mouse goes there is not taken as a turn."""
    sidebar = SimpleNamespace(type="UI", width=200, height=600, x=600, y=0)
    turning.area.regions, turning.context.region.x = (sidebar,), 0
    turning.begin(700, 300)
    turning.move(650, 500)
    assert turning.lines == ("V3", "flexion 0.0°")
    turning.move(500, 300)
    turning.move(500, 310)
    assert turning.lines != ("V3", "flexion 0.0°")


def test_a_stop_is_said_once(turning: PosingDrive, animal_scene: Scene, part) -> None:
    """Beside the mouse while a tool is in use, at its place afterwards."""
    find = part("bridge.marks").find_stops
    turning.begin(500, 300)
    turning.press("FIVE", "ZERO")
    bpy.context.view_layer.update()
    part("bridge.figures").refresh_figures(bpy.context)
    assert [mark.text for mark in find(turning.context)] == [""]
    turning.press("RET")
    assert [mark.text for mark in find(turning.context)] == ["flexion stops at 22.9°: set by hand"]
