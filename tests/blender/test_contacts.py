"""What touches the ground besides the feet: named by selection, let off in a pose, undone, shown with what it bears."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
import pytest
from scenes import Scene

op = bpy.ops.counterpoise
FEET = ["fore left foot", "fore right foot", "hind left foot", "hind right foot"]
TAIL = "V9"


def pose_mode(scene: Scene, *elements: str) -> None:
    """The rig in pose mode, the bones of these elements selected."""
    bpy.context.view_layer.objects.active = scene.rig
    scene.rig.select_set(True)
    bpy.ops.object.mode_set(mode="POSE")
    bpy.ops.pose.select_all(action="DESELECT")
    for element in elements:
        bone = scene.bone_of(element)
        (bone if hasattr(bone, "select") else bone.bone).select = True


def list_feet(scene: Scene) -> list[str]:
    return [foot.name for foot in scene.document.skeleton.feet]


def shown_feet(part: Any) -> dict[str, str]:
    return {foot.name: foot.text for foot in part("bridge.figures").live_figures().feet}


def add_tail(scene: Scene) -> None:
    pose_mode(scene, TAIL)
    assert op.add_contact("EXEC_DEFAULT", True, name="tail") == {"FINISHED"}


def sink_to_tail(scene: Scene) -> None:
    """Pitched by 100°, the end of the tail is the lowest."""
    c, s = np.cos(np.radians(100)), np.sin(np.radians(100))
    scene.write_pose({}, np.array([[c, 0, -s, 0], [0, 1, 0, 0], [s, 0, c, 0], [0, 0, 0, 1]]))


def test_it_asks_for_a_selection(animal_scene, capfd) -> None:
    assert not op.add_contact.poll()
    with pytest.raises(RuntimeError, match="Select what touches the ground"):
        op.add_contact(name="tail")
    pose_mode(animal_scene)
    assert not op.add_contact.poll()
    pose_mode(animal_scene, TAIL)
    assert op.add_contact.poll()


def test_bones_selected_become_a_contact_that_is_named_after_them(animal_scene, part) -> None:
    pose_mode(animal_scene, TAIL)
    assert op.add_contact() == {"FINISHED"}
    assert list_feet(animal_scene) == [*FEET, "tail"]
    foot = animal_scene.document.skeleton.feet[-1]
    assert [contact.element for contact in foot.contacts] == [TAIL]
    assert foot.origin == "by hand"
    # Points of the file at full resolution: the ends of an ellipsoid of 26 mm, tilted by 0.9.
    points = foot.contacts[0].points_m
    reach = np.hypot(26e-3 * np.cos(0.9), 18e-3 * np.sin(0.9))
    assert np.ptp(points[:, 0]) == pytest.approx(2 * reach, rel=0.02)
    assert shown_feet(part)["tail"] == "lifted"
    assert bpy.context.mode == "POSE"


def test_several_bones_touch_as_one(animal_scene) -> None:
    pose_mode(animal_scene, "V8", TAIL)
    assert op.add_contact(name="end of the tail") == {"FINISHED"}
    contacts = animal_scene.document.skeleton.feet[-1].contacts
    assert sorted(contact.element for contact in contacts) == ["V8", TAIL]


def test_what_rides_on_a_bone_goes_with_it(animal_scene) -> None:
    """V1 is fixed to V2; so are the legs not, which turn."""
    pose_mode(animal_scene, "V2")
    assert op.add_contact(name="chin") == {"FINISHED"}
    assert [contact.element for contact in animal_scene.document.skeleton.feet[-1].contacts] == ["V2", "V1"]


def test_an_element_chosen_in_the_list_does_as_well(animal_scene) -> None:
    """V1 has no bone of its own: it rides on V2."""
    assert op.select_element(element="V1") == {"FINISHED"}
    assert op.add_contact() == {"FINISHED"}
    foot = animal_scene.document.skeleton.feet[-1]
    assert (foot.name, foot.contacts[0].element) == ("V1", "V1")


def test_what_touches_already_is_refused_and_nothing_changes(animal_scene) -> None:
    before = animal_scene.settings.document.as_string()
    pose_mode(animal_scene, "leg V2 left")
    with pytest.raises(RuntimeError, match="touches the ground as part of 'fore left foot'"):
        op.add_contact(name="tail")
    pose_mode(animal_scene, TAIL)
    with pytest.raises(RuntimeError, match="something of that name touches the ground"):
        op.add_contact(name=FEET[0])
    assert animal_scene.settings.document.as_string() == before


def test_a_missing_scan_is_told(animal_scene, animal_files) -> None:
    scan = animal_files[0] / f"{TAIL}.stl"
    kept = scan.read_bytes()
    pose_mode(animal_scene, TAIL)
    try:
        scan.unlink()
        with pytest.raises(RuntimeError, match=r"V9\.stl"):
            op.add_contact(name="tail")
    finally:
        scan.write_bytes(kept)
    assert list_feet(animal_scene) == FEET


def test_it_bears_where_it_touches_and_not_where_it_is_let_off(animal_scene, part) -> None:
    add_tail(animal_scene)
    sink_to_tail(animal_scene)
    assert op.stand() == {"FINISHED"}
    assert shown_feet(part) == {**dict.fromkeys(FEET, "lifted"), "tail": "not known"}
    op.save_pose(name="on the tail")
    assert op.let_bear(name="tail", bears=False) == {"FINISHED"}
    assert shown_feet(part)["tail"] == "bears nothing"
    height = animal_scene.read_pose().X_WN[2, 3]
    assert op.stand() == {"FINISHED"}
    assert shown_feet(part)["tail"] == "bears nothing"
    assert animal_scene.read_pose().X_WN[2, 3] < height
    op.save_pose(name="beside it")
    assert [pose.idle_feet for pose in animal_scene.document.poses] == [(), (), ("tail",)]
    op.restore_pose(name="on the tail")
    assert animal_scene.read_pose().idle_feet == ()
    op.restore_pose(name="beside it")
    assert animal_scene.read_pose().idle_feet == ("tail",)
    op.reset_pose()
    assert animal_scene.read_pose().idle_feet == ("tail",)
    op.build_rig()
    assert animal_scene.read_pose().idle_feet == ("tail",)


def test_all_of_it_is_undone_and_done_again(animal_scene, part) -> None:
    pose_mode(animal_scene, TAIL)
    bpy.ops.ed.undo_push(message="Begin")
    states = []

    def note() -> None:
        states.append((animal_scene.settings.document.as_string(), animal_scene.read_pose().idle_feet))

    note()
    for operator, given in (
        (op.add_contact, {"name": "tail"}),
        (op.let_bear, {"name": "tail", "bears": False}),
        (op.save_pose, {"name": "bears nothing"}),
        (op.let_bear, {"name": FEET[0], "bears": False}),
        (op.remove_contact, {"name": "tail"}),
    ):
        assert operator("EXEC_DEFAULT", True, **given) == {"FINISHED"}
        note()
    assert states[-1][1] == (FEET[0],)
    assert animal_scene.document.poses[-1].idle_feet == ()
    for back in range(len(states) - 2, -1, -1):
        bpy.ops.ed.undo()
        assert (animal_scene.settings.document.as_string(), animal_scene.read_pose().idle_feet) == states[back]
        part("bridge.figures").refresh_figures(bpy.context)
        assert list(shown_feet(part)) == list_feet(animal_scene)
    for forth in range(1, len(states)):
        bpy.ops.ed.redo()
        assert (animal_scene.settings.document.as_string(), animal_scene.read_pose().idle_feet) == states[forth]


def test_unknown_names_are_refused(animal_scene) -> None:
    for operator in (op.remove_contact, op.let_bear):
        with pytest.raises(RuntimeError, match="nothing of that name touches the ground"):
            operator(name="nose")


def test_one_added_again_bears(animal_scene) -> None:
    """What the live pose said of the one that was removed is forgotten, as in saved poses."""
    add_tail(animal_scene)
    op.let_bear(name="tail", bears=False)
    op.remove_contact(name="tail")
    add_tail(animal_scene)
    assert animal_scene.read_pose().idle_feet == ()
