"""The artist's posing tools: by mouse, by keys and from a script; they hold at limits and can be taken back whole."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import SimpleNamespace

import bpy
import numpy as np
import pytest
import scenes
from mathutils import Vector
from posing_drive import PosingDrive, look_from
from scenes import Scene

op = bpy.ops.counterpoise


@pytest.fixture
def turning(animal_scene: Scene, part) -> PosingDrive:
    """Turn Joint begun on V3, whose axes go from -0.5 to 0.4 rad."""
    scenes.take_bone(animal_scene, "V3")
    return PosingDrive(part, part("operators.turning").COUNTERPOISE_OT_turn_joint)


def angles(scene: Scene, element: str = "V3") -> np.ndarray:
    return np.asarray(scene.read_pose().angles_rad.get(element, np.zeros(3)))


def channels(scene: Scene) -> list[tuple[float, ...]]:
    return [tuple(v for row in bone.matrix_basis for v in row) for bone in scene.rig.pose.bones]


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


def name_neck(scene: Scene) -> None:
    """The four foremost vertebrae are the neck's."""
    known = json.loads(scene.settings.document.as_string())
    for element in known["skeleton"]["elements"]:
        if element["name"] in ("V1", "V2", "V3", "V4"):
            element["series"] = "cervical"
    scene.settings.document.from_string(json.dumps(known))


def place_end(scene: Scene, element: str) -> np.ndarray:
    """Where the end of a bone stands, in the scene."""
    bpy.context.view_layer.update()
    return np.array(scene.rig.matrix_world @ scene.bone_of(element).tail)


def feet(scene: Scene) -> np.ndarray:
    """Where Blender puts the elements that stand on the ground."""
    bpy.context.view_layer.update()
    depsgraph = bpy.context.evaluated_depsgraph_get()
    own = [o for o in scene.rig.children if "counterpoise_element" in o and "leg" in o["counterpoise_element"]]
    return np.array([o.evaluated_get(depsgraph).matrix_world for o in sorted(own, key=lambda o: o.name)])


def test_a_chain_is_bent_whole_and_shared_out(animal_scene: Scene) -> None:
    scenes.take_bone(animal_scene, "V7")
    assert op.bend_chain(flexion=0.4) == {"FINISHED"}
    pose = animal_scene.read_pose()
    turned = [pose.angles_rad[name][0] for name in ("V6", "V7", "V8", "V9")]
    assert turned == pytest.approx([0.1] * 4, abs=1e-5)
    op.bend_chain(chain="tail", flexion=-0.4)
    op.bend_chain(chain="tail", flexion=0.4, fall_off=1.0)
    turned = [animal_scene.read_pose().angles_rad.get(name, np.zeros(3))[0] for name in ("V6", "V7", "V8", "V9")]
    assert sum(turned) == pytest.approx(0.4, abs=1e-4)
    assert sorted(turned, reverse=True) == turned
    assert turned[3] == pytest.approx(0, abs=1e-5)


def test_a_chain_goes_no_farther_than_its_joints(animal_scene: Scene) -> None:
    assert op.bend_chain(chain="tail", lateral=9) == {"FINISHED"}
    for name in ("V6", "V7", "V8", "V9"):
        assert angles(animal_scene, name)[1] == pytest.approx(0.4, abs=1e-3)


@pytest.mark.parametrize(("given", "message"), [({"chain": "wing"}, "no chain has that name"), ({}, "none is in hand")])
def test_a_chain_that_is_not_there_is_refused(animal_scene: Scene, given: dict, message: str) -> None:
    before = channels(animal_scene)
    with pytest.raises(RuntimeError, match=message):
        op.bend_chain(**given, flexion=0.1)
    assert channels(animal_scene) == before


@pytest.mark.parametrize("view", [None, look_from((0, 0, 1), (0, 1, 0), 2.0)])
def test_the_tip_of_a_chain_follows_the_mouse(animal_scene: Scene, part, view) -> None:
    """From the side the tail bends up, from above to its side; fall-off by the wheel; Esc takes it all back."""
    scenes.take_bone(animal_scene, "V8")
    drive = PosingDrive(part, part("operators.bending").COUNTERPOISE_OT_bend_chain, view)
    before, start = channels(animal_scene), place_end(animal_scene, "V9")
    assert drive.begin(100, 100) == {"RUNNING_MODAL"}
    drive.move(100, 120)
    gone = place_end(animal_scene, "V9") - start
    shown, hidden = (2, 1) if view is None else (1, 2)
    assert gone[shown] == pytest.approx(20 / 400, rel=0.15)  # 400 px a scene unit
    assert abs(gone[hidden]) < 1e-3
    assert drive.lines[0] == "tail"
    first = angles(animal_scene, "V9")
    drive.press("WHEELUPMOUSE", "WHEELUPMOUSE")
    assert "fall-off +0.2" in drive.lines
    assert np.linalg.norm(angles(animal_scene, "V9")) < np.linalg.norm(first)
    assert drive.press("ESC") == {"CANCELLED"}
    assert channels(animal_scene) == before


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
    name_neck(animal_scene)
    bpy.context.scene.cursor.location = (1.5, 0.4, 0.6)
    assert op.look_at(at_cursor=True) == {"FINISHED"}
    depsgraph = bpy.context.evaluated_depsgraph_get()
    head = next(o for o in animal_scene.rig.children if o.get("counterpoise_element") == "V1")
    seen = np.array(head.evaluated_get(depsgraph).matrix_world)
    skeleton = animal_scene.document.skeleton
    forward = seen[:3, :3] @ skeleton.elements[skeleton.index("V1")].X_WE[:3, :3].T @ (1, 0, 0)
    way = np.array(bpy.context.scene.cursor.location) - seen[:3, 3]
    assert np.degrees(np.arccos(forward @ way / np.linalg.norm(way))) < 0.2


def test_the_body_moves_as_far_as_the_feet_let_it(animal_scene: Scene) -> None:
    before, root = feet(animal_scene), np.array(animal_scene.rig.pose.bones[0].head)
    assert op.move_body(offset=(0, 0, -0.05)) == {"FINISHED"}
    assert feet(animal_scene) == pytest.approx(before, abs=2e-3)
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


def test_a_pose_is_mirrored_and_a_side_copied(animal_scene: Scene) -> None:
    animal_scene.write_pose({"V3": np.array([0.1, 0.2, -0.1]), "leg V2 left": np.array([0.2, 0.1, 0.1])})
    assert op.flip_side() == {"FINISHED"}
    assert angles(animal_scene, "leg V2 right") == pytest.approx([0.2, 0.1, 0.1], abs=1e-5)
    animal_scene.write_pose({"V3": np.array([0.1, 0.2, -0.1]), "leg V2 left": np.array([0.2, 0.1, 0.1])})
    assert op.mirror_pose() == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx([0.1, -0.2, 0.1], abs=1e-5)
    assert angles(animal_scene, "leg V2 right") == pytest.approx([0.2, 0.1, 0.1], abs=1e-5)
    assert angles(animal_scene, "leg V2 left") == pytest.approx([0, 0, 0], abs=1e-5)


def test_two_poses_are_blended_and_a_chain_goes_back(animal_scene: Scene, part) -> None:
    animal_scene.write_pose({"V3": np.array([0.3, 0.0, 0.0]), "V7": np.array([0.0, 0.2, 0.0])})
    op.save_pose(name="bent")
    assert op.neutral_chain(chain="tail") == {"FINISHED"}
    assert angles(animal_scene, "V7") == pytest.approx([0, 0, 0], abs=1e-6)
    assert angles(animal_scene) == pytest.approx([0.3, 0, 0], abs=1e-5)
    op.reset_pose()
    assert op.blend_pose(name="bent", share=0.25) == {"FINISHED"}
    assert angles(animal_scene, "V7") == pytest.approx([0, 0.05, 0], abs=1e-5)
    op.reset_pose()
    drive = PosingDrive(part, part("operators.pose_edits").COUNTERPOISE_OT_blend_pose, name="bent")
    drive.begin(100, 100)
    drive.move(300, 100)
    assert drive.lines == ("bent", "50 % of the way")
    assert drive.press("LEFTMOUSE") == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx([0.15, 0, 0], abs=1e-5)


def test_what_is_outside_comes_to_the_nearest_allowed_attitude(animal_scene: Scene, part) -> None:
    animal_scene.settings.hold_limits = False
    animal_scene.write_pose({"V3": np.array([0.7, 0.1, 0.0]), "V7": np.array([0.0, 0.2, 0.0])})
    told = part("bridge.posing_text").word_changes
    kept = part("bridge.kept_document").keep_document(bpy.context.scene)
    found = part("core_calcs.studies.posing_edits").nearest_allowed(kept.posing, animal_scene.read_pose())
    assert told(found.changes) == "Brought inside: V3 by 17.2° (flexion: set by hand)"
    assert op.nearest_allowed() == {"FINISHED"}
    assert angles(animal_scene) == pytest.approx([0.4, 0.1, 0], abs=1e-3)
    assert angles(animal_scene, "V7") == pytest.approx([0, 0.2, 0], abs=1e-5)
    assert told(()) == "Every joint is inside its range: nothing has changed"


def test_a_picture_stands_behind_its_view_and_goes_without_a_trace(animal_scene: Scene, tmp_path) -> None:
    made = bpy.data.images.new("drawn", 40, 20)
    made.filepath_raw, made.file_format = str(tmp_path / "side.png"), "PNG"
    made.save()
    bpy.data.images.remove(made)
    before = scenes.scene_contents()
    assert op.add_reference(filepath=str(tmp_path / "side.png"), view="LEFT", opacity=0.4) == {"FINISHED"}
    picture = bpy.context.scene.objects["Reference side"]
    corners = [o.matrix_world @ Vector(c) for o in animal_scene.rig.children if o.type == "MESH" for c in o.bound_box]
    low, high = np.min(corners, axis=0), np.max(corners, axis=0)
    assert picture.empty_display_size == pytest.approx(high[0] - low[0], rel=1e-5)
    assert np.array(picture.matrix_world)[:3, 0] == pytest.approx(
        (-1, 0, 0), abs=1e-6
    )  # its right is the animal's tail
    assert np.array(picture.matrix_world)[:3, 1] == pytest.approx((0, 0, 1), abs=1e-6)
    assert picture.location[2] == pytest.approx((low[2] + high[2]) / 2, abs=1e-5)
    assert (picture.empty_image_depth, picture.hide_select) == ("BACK", True)
    assert picture.color[3] == pytest.approx(0.4)
    assert op.remove_reference(name="Reference side") == {"FINISHED"}
    assert scenes.scene_contents() == before
    assert "side.png" not in bpy.data.images
    assert (tmp_path / "side.png").is_file()


@pytest.mark.parametrize(("name", "content"), [("gone.png", None), ("text.png", b"no picture")])
def test_what_is_no_picture_is_refused(animal_scene: Scene, tmp_path, name: str, content: bytes | None) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    before, images = scenes.scene_contents(), len(bpy.data.images)
    with pytest.raises(RuntimeError, match=name):
        op.add_reference(filepath=str(tmp_path / name), view="LEFT")
    assert scenes.scene_contents() == before
    assert len(bpy.data.images) == images


def test_no_key_is_taken_from_blender(part) -> None:
    """By the keymap that Blender's own preset makes, of all that hears keys over the view in pose mode."""
    folder = Path(bpy.utils.system_resource("SCRIPTS")) / "presets" / "keyconfig" / "keymap_data"
    source = next(iter(folder.glob("blender_default.py")))
    spec = importlib.util.spec_from_file_location("blender_default_keys", source)
    keys = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = keys  # its dataclasses look themselves up
    spec.loader.exec_module(keys)
    heard = ("Pose", "3D View", "3D View Generic", "Object Non-modal", "Frames", "Window", "Screen", "Screen Editing")
    found = {name: content["items"] for name, _, content in keys.generate_keymaps(keys.Params()) if name in heard}
    assert len(found) == len(heard)
    taken = {
        (event["type"], *(bool(event.get(key)) for key in ("shift", "ctrl", "alt", "oskey")))
        for items in found.values()
        for _, event, _ in items
    }
    assert ("R", False, False, True, False) in taken  # pose.rot_clear: the list has teeth
    own = [
        ("J", bool(held.get("shift")), False, bool(held.get("alt")), False)
        for _, held in part("operators.posing_keys").KEYS
    ]
    own.append(("J", False, True, False, False))
    assert len(set(own)) == 4
    assert not taken & set(own)
    items = bpy.context.window_manager.keyconfigs.addon.keymaps["Pose"].keymap_items
    mine = [
        (i.type, i.shift_ui, i.ctrl_ui, i.alt_ui, False)
        for i in items
        if "counterpoise" in i.idname or i.idname == "wm.call_menu"
    ]
    assert set(mine) == set(own)


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("turn_joint", {"element": "V3", "flexion": 0.2}),
        ("bend_chain", {"chain": "tail", "lateral": 0.3}),
        ("reach", {"element": "V9", "target": (-0.25, 0.05, 0.45)}),
        ("move_body", {"offset": (0.1, 0.0, 0.0), "hold_feet": False}),
        ("mirror_pose", {}),
        ("neutral_chain", {"chain": "trunk"}),
    ],
)
def test_each_is_one_step_of_undo(animal_scene: Scene, name: str, given: dict) -> None:
    animal_scene.write_pose({"V4": np.array([0.1, 0.2, 0.0])})
    bpy.ops.ed.undo_push(message="Begin")
    before = channels(animal_scene)
    assert getattr(op, name)("EXEC_DEFAULT", True, **given) == {"FINISHED"}
    after = channels(animal_scene)
    assert after != before
    bpy.ops.ed.undo()
    assert channels(animal_scene) == before
    bpy.ops.ed.redo()
    assert channels(animal_scene) == after


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
