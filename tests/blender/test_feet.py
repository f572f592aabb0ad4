"""On the demo: feet set down each on its ground, a foot rolled over its toes, the body moved over feet that roll."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
import scenes
from posing_drive import PosingDrive, channels
from scenes import Scene

op = bpy.ops.counterpoise
FEET = {"left foot", "right foot"}


@pytest.fixture(scope="module")
def demo_blend(tmp_path_factory: pytest.TempPathFactory, installed: None) -> Path:
    bpy.ops.wm.read_homefile(use_factory_startup=True)
    assert op.open_demo() == {"FINISHED"}
    assert op.restore_pose(name="standing") == {"FINISHED"}
    path = tmp_path_factory.mktemp("feet") / "demo.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    return path


@pytest.fixture
def demo(demo_blend: Path, empty_scene: None, part) -> Scene:
    """The demo, each time as it was saved."""
    bpy.ops.wm.open_mainfile(filepath=str(demo_blend))
    return Scene(part)


def place_foot(scene: Scene, name: str) -> dict[str, np.ndarray]:
    """What of a foot may touch the ground, (n, 3) by element, in the pose that the evaluated rig shows."""
    skeleton, pose = scene.document.skeleton, scene.read_pose()
    placed = scene.part("core_calcs.skeleton.kinematics").place_elements(skeleton, pose)
    points = {
        own.element: np.asarray(own.points_m) for foot in skeleton.feet if foot.name == name for own in foot.contacts
    }
    frames = {element: placed[skeleton.index(element)] for element in points}
    return {element: own @ frames[element][:3, :3].T + frames[element][:3, 3] for element, own in points.items()}


def find_low(scene: Scene, name: str) -> float:
    return min(float(points[:, 2].min()) for points in place_foot(scene, name).values())


def list_outside(scene: Scene) -> list[str]:
    """Joints beyond their limits or what their axes allow together, but for rounding in Blender's channels."""
    kept, pose = scene.part("bridge.kept_document").keep_document(bpy.context.scene), scene.read_pose()
    found = scene.part("core_calcs.studies.posing_edits").nearest_allowed(kept.posing, pose)
    return [change.child for change in found.changes if change.by_rad > 1e-4]


def test_feet_come_each_to_the_ground_of_its_footing(demo: Scene, part) -> None:
    assert op.set_footing(foot="left foot", height=0.12) == {"FINISHED"}
    standing = part("core_calcs.studies.stand").find_standing
    assert set(standing(demo.document.skeleton, demo.read_pose(), demo.document.site).feet) < FEET
    root = demo.read_pose().X_WN
    assert op.plant_feet() == {"FINISHED"}
    assert find_low(demo, "left foot") == pytest.approx(0.12, abs=1e-4)
    assert find_low(demo, "right foot") == pytest.approx(0.0, abs=1e-4)
    assert pytest.approx(root, abs=1e-5) == demo.read_pose().X_WN
    assert set(standing(demo.document.skeleton, demo.read_pose(), demo.document.site).feet) >= FEET
    assert not list_outside(demo)
    before = {name: place_foot(demo, name) for name in FEET}
    assert op.move_body(offset=(0.0, 0.0, -0.1)) == {"FINISHED"}
    for name, points in before.items():
        for element, own in place_foot(demo, name).items():
            assert own == pytest.approx(points[element], abs=1e-4)


def test_on_its_back_it_rests_on_what_is_lowest(demo: Scene, part) -> None:
    """The core's own words, but for the units; turned back it stands on its feet again."""
    resting = part("core_calcs.studies.resting").find_resting
    assert op.move_body(turn=(np.pi, 0.0, 0.0), hold_feet=False) == {"FINISHED"}
    folder = part("core_calcs.document.meshes").locate_mesh_folder(
        demo.document, part("bridge.kept_document").text_path(bpy.context.scene.counterpoise.document)
    )
    found = resting(demo.document.skeleton, demo.read_pose(), demo.document.site, False, folder)
    assert (found.standing.feet, found.unread) == ((), ())
    assert op.stand() == {"FINISHED"}
    assert pytest.approx(found.standing.pose.X_WN, abs=1e-5) == demo.read_pose().X_WN
    told = part("operators.posing").word_resting(found, part("bridge.units").scene_units(bpy.context.scene))
    assert told.startswith(f"Rests on {found.others[0]}")
    assert "; no foot touches the ground; moved down by " in told
    assert op.move_body(turn=(np.pi, 0.0, 0.0), hold_feet=False) == {"FINISHED"}
    assert op.stand() == {"FINISHED"}
    assert find_low(demo, "left foot") == pytest.approx(0.0, abs=1e-3)


def test_a_foot_rolls_over_its_toes(demo: Scene) -> None:
    toes = place_foot(demo, "left foot")
    assert op.roll_foot(foot="left foot", angle=np.radians(30)) == {"FINISHED"}
    assert find_low(demo, "left foot") == pytest.approx(0.0, abs=5e-4)
    for digit in (3, 4):
        tip = f"foot phalanx {digit}-{digit + 1} left"
        low = toes[tip][:, 2] < 0.005
        off = place_foot(demo, "left foot")[tip][low].mean(axis=0) - toes[tip][low].mean(axis=0)
        assert np.linalg.norm(off) < 0.012
    assert not list_outside(demo)


def test_the_body_comes_where_it_is_wanted_over_feet_that_roll(demo: Scene) -> None:
    start = demo.read_pose().X_WN
    assert op.move_body(offset=(0.6, 0.0, 0.1), roll_feet=True) == {"FINISHED"}
    root = demo.document.skeleton.root
    centre = root.X_WE @ np.append(root.solid.centre_m, 1.0)
    gone = (demo.read_pose().X_WN @ centre - start @ centre)[:3]
    assert gone == pytest.approx([0.6, 0.0, 0.1], abs=2e-3)
    for name in FEET:
        assert find_low(demo, name) == pytest.approx(0.0, abs=1e-3)
    assert not list_outside(demo)


def test_the_mouse_rolls_the_foot_of_the_active_bone(demo: Scene, part) -> None:
    scenes.take_bone(demo, "tibia left")
    drive = PosingDrive(part, part("operators.feet").COUNTERPOISE_OT_roll_foot)
    before = channels(demo)
    drive.begin(100, 100)
    drive.move(180, 100)
    assert drive.tool.foot == "left foot"
    assert np.degrees(drive.tool.angle) == pytest.approx(18.0)
    drive.press("ESC")
    assert channels(demo) == before
    scenes.take_bone(demo, "cervical 4")
    with pytest.raises(RuntimeError, match="none is in hand"):
        op.roll_foot(angle=0.2)


def test_a_drag_ends_as_the_same_roll_from_a_script(demo: Scene, part) -> None:
    """The body follows for a while, then stays: nothing of that is left, and the last is searched to the end."""
    drive = PosingDrive(part, part("operators.feet").COUNTERPOISE_OT_roll_foot, foot="left foot")
    drive.begin(100, 100)
    start = demo.read_pose().X_WN
    for x in range(120, 221, 20):
        drive.move(x, 100)
        if x == 140:
            drive.press("B")
        if x == 180:
            assert np.abs(demo.read_pose().X_WN - start).max() > 1e-4
            drive.press("B")
    assert drive.lines[1].startswith("rolled by 27")
    drive.press("LEFTMOUSE")
    dragged = channels(demo)
    bpy.ops.wm.revert_mainfile()
    assert op.roll_foot(foot="left foot", angle=drive.tool.angle) == {"FINISHED"}
    assert np.allclose(dragged, channels(Scene(part)), atol=1e-6)


def test_rolling_and_setting_down_are_each_one_step_of_undo(demo: Scene) -> None:
    op.set_footing(foot="left foot", height=0.1)
    for name, given in (("plant_feet", {}), ("roll_foot", {"foot": "right foot", "angle": 0.3})):
        bpy.ops.ed.undo_push(message="Begin")
        before = channels(demo)
        assert getattr(op, name)("EXEC_DEFAULT", True, **given) == {"FINISHED"}
        after = channels(demo)
        assert after != before
        bpy.ops.ed.undo()
        assert channels(demo) == before
        bpy.ops.ed.redo()
        assert channels(demo) == after
