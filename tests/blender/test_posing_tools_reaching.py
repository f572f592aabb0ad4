"""A tip brought to a place, the skull turned to look, the body moved over its feet."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
import scenes
from posing_drive import PosingDrive, channels, feet, place_end
from scenes import Scene

op = bpy.ops.counterpoise


def test_a_tip_reaches_what_its_chain_can_reach(animal_scene: Scene) -> None:
    at = place_end(animal_scene, "V9") + np.array((0.01, 0.02, 0.03))
    assert op.reach(element="V9", target=at) == {"FINISHED"}
    assert place_end(animal_scene, "V9") == pytest.approx(at, abs=1e-3)
    op.reach(element="V9", target=(2, 0, 2))
    pose = animal_scene.read_pose()
    for name in ("V6", "V7", "V8", "V9"):
        bounds = animal_scene.bounds_of(name)
        own = pose.angles_rad.get(name, np.zeros(3))
        assert (own > bounds[:, 0] - 1e-3).all()
        assert (own < bounds[:, 1] + 1e-3).all()


def test_the_mouse_leads_a_tip_in_the_plane_of_the_view(animal_scene: Scene, part) -> None:
    scenes.take_bone(animal_scene, "V9")
    drive = PosingDrive(part, part("operators.reaching").COUNTERPOISE_OT_reach)
    before, start = channels(animal_scene), place_end(animal_scene, "V9")
    drive.begin(100, 100)
    for y in range(100, 113, 2):
        drive.move(100 + (y - 100) / 4, y)  # inwards as well: straight up is out of reach
    assert np.array(drive.tool.target) - start == pytest.approx([3 / 400, 0, 12 / 400], abs=1e-5)
    assert place_end(animal_scene, "V9") == pytest.approx(np.array(drive.tool.target), abs=2e-3)
    for y in range(110, 99, -2):
        drive.move(100 + (y - 100) / 4, y)
    assert place_end(animal_scene, "V9") == pytest.approx(start, abs=2e-3)
    drive.press("ESC")
    assert channels(animal_scene) == before


def test_the_skull_looks_at_a_point_and_at_the_cursor(animal_scene: Scene) -> None:
    with pytest.raises(RuntimeError, match="no neck"):
        op.look_at(target=(1, 1, 0.5))
    scenes.name_neck(animal_scene)
    bpy.context.scene.cursor.location = (1.5, 0.4, 0.6)
    assert op.look_at(at_cursor=True) == {"FINISHED"}
    depsgraph = bpy.context.evaluated_depsgraph_get()
    head = next(o for o in animal_scene.rig.children if o.get("counterpoise_element") == "V1")
    seen = np.array(head.evaluated_get(depsgraph).matrix_world)
    skeleton = animal_scene.document.skeleton
    forward = seen[:3, :3] @ skeleton.elements[skeleton.index("V1")].X_WE[:3, :3].T @ (1, 0, 0)
    way = np.array(bpy.context.scene.cursor.location) - seen[:3, 3]
    assert np.degrees(np.arccos(forward @ way / np.linalg.norm(way))) < 0.2


def test_begun_over_a_button_the_skull_looks_where_it_did_until_the_mouse_is_over_the_view(
    animal_scene: Scene, part, monkeypatch: pytest.MonkeyPatch
) -> None:
    scenes.name_neck(animal_scene)
    op.bend_chain(chain="neck", flexion=0.1, lateral=0.05)
    begun = animal_scene.read_pose().angles_rad
    own = part("operators.posing_tool")
    monkeypatch.setattr(own, "is_over_view", lambda _context, event: event.mouse_region_x < 600)
    drive = PosingDrive(part, part("operators.reaching").COUNTERPOISE_OT_look_at)
    drive.begin(700, 300)  # over the sidebar: behind the animal, as the view sees it
    drive.move(690, 300)
    assert measure_turns(begun, animal_scene.read_pose().angles_rad) < 1e-4
    drive.move(590, 200)
    assert measure_turns(begun, animal_scene.read_pose().angles_rad) > 0.01
    drive.press("ESC")


def test_where_the_skull_looks_at_last_counts_and_not_the_way_of_the_mouse(animal_scene: Scene, part) -> None:
    scenes.name_neck(animal_scene)
    drive = PosingDrive(part, part("operators.reaching").COUNTERPOISE_OT_look_at)
    drive.begin(500, 300)
    target = (0.0, 0.0, 0.0)
    for way in ((-3.0, 0.01, 0.3), (-3.0, -0.2, 1.0), (2.0, 0.0, 1.6)):  # behind it, then before it again
        drive.tool.target = target = way
        drive.tool.show(drive.context, drive.event("MOUSEMOVE"))
    drive.press("RET")
    led = animal_scene.read_pose().angles_rad
    op.reset_pose()
    op.look_at(target=target)
    straight = animal_scene.read_pose().angles_rad
    assert straight
    assert measure_turns(led, straight) < 1e-5


def measure_turns(before: dict[str, np.ndarray], after: dict[str, np.ndarray]) -> float:
    """By how much a joint has turned at most [rad]."""
    zero = np.zeros(3)
    return max(float(np.abs(np.subtract(before.get(n, zero), after.get(n, zero))).max()) for n in {*before, *after})


def test_the_body_moves_as_far_as_the_feet_let_it(animal_scene: Scene) -> None:
    before, root = feet(animal_scene), np.array(animal_scene.rig.pose.bones[0].head)
    assert op.move_body(offset=(0, 0, -0.05)) == {"FINISHED"}
    assert feet(animal_scene) == pytest.approx(before, abs=1e-5)
    op.move_body(offset=(0.1, 0, 0.02), hold_feet=False)
    bpy.context.view_layer.update()
    assert feet(animal_scene)[:, :3, 3] - before[:, :3, 3] == pytest.approx(np.array([[0.1, 0, 0.02]] * 4), abs=3e-3)
    assert np.array(animal_scene.rig.pose.bones[0].head)[0] - root[0] == pytest.approx(0.1, abs=3e-3)


def test_the_body_is_moved_and_turned_by_the_mouse(animal_scene: Scene, part) -> None:
    scenes.take_bone(animal_scene, "V5")
    drive = PosingDrive(part, part("operators.moving").COUNTERPOISE_OT_move_body, hold_feet=False)
    before = channels(animal_scene)
    drive.begin(100, 100)
    drive.move(140, 140)
    assert tuple(drive.tool.offset) == pytest.approx((0.1, 0, 0.1), abs=1e-5)
    drive.press("X")
    drive.move(180, 180)
    assert tuple(drive.tool.offset) == pytest.approx((0.1, 0, 0), abs=1e-5)
    assert animal_scene.read_pose().X_WN[:3, 3] == pytest.approx((0.1, 0, 0), abs=1e-5)
    drive.press("ESC")
    assert channels(animal_scene) == before
