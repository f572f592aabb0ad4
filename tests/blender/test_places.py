"""Elements placed by hand: moved by Blender's own means in a pose, taken over, undone, put back."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from mathutils import Matrix
from scenes import inside_limits, random_rotation, scene_contents
from test_round_trip import assert_agrees

op = bpy.ops.counterpoise
DOWN = (0.004, 0.01, -0.02)


def turned_pose(scene):
    rng = np.random.default_rng(11)
    X_WN = np.eye(4)
    X_WN[:3, :3], X_WN[:3, 3] = random_rotation(rng), (0.3, -0.2, 0.1)
    return scene.write_pose({joint.child: inside_limits(joint, rng) for joint in scene.moving_joints()}, X_WN)


def move(scene, name: str, shift=DOWN, angle: float = 0.3) -> Matrix:
    """As G and R leave it: the object's place in the world. Returns where it is seen then."""
    assert op.take_element(element=name) == {"FINISHED"}
    proxy = bpy.context.object
    assert proxy["counterpoise_element"] == name
    place = proxy.matrix_world.copy()
    turn = Matrix.Rotation(angle, 4, (0.6, 0.0, 0.8))
    proxy.matrix_world = (
        Matrix.Translation(place.translation) @ Matrix.Translation(shift) @ turn @ place.to_3x3().to_4x4()
    )
    bpy.context.view_layer.update()
    return proxy.matrix_world.copy()


def place_of(scene, name: str) -> np.ndarray:
    return np.array(next(o for o in scene.rig.children if o["counterpoise_element"] == name).matrix_world)


@pytest.mark.parametrize("name", ["V1", "leg V2 left", "V2"])
def test_it_stands_where_it_was_put_and_rig_and_core_agree(animal_scene, name: str) -> None:
    """V1 is fixed on V2; the leg turns in a joint set by hand; V2 carries V1 and both fore legs."""
    pose = turned_pose(animal_scene)
    before = animal_scene.document
    seen = np.array(move(animal_scene, name))
    assert op.place_element(reason="as in the drawing") == {"FINISHED"}
    bpy.context.view_layer.update()
    size = animal_scene.size_m()
    np.testing.assert_allclose(place_of(animal_scene, name), seen, rtol=0, atol=1e-5 * size)
    assert_agrees(animal_scene, animal_scene.write_pose(pose.angles_rad, pose.X_WN))
    assert_agrees(animal_scene, animal_scene.write_pose({}))
    after = animal_scene.document
    assert [(joint.child, joint.placing.reason) for joint in after.skeleton.joints if joint.placing] == [
        (name, "as in the drawing")
    ]
    moved = {
        one.name
        for one, two in zip(before.skeleton.elements, after.skeleton.elements, strict=True)
        if not np.array_equal(one.X_WE, two.X_WE)
    }
    assert moved == ({"V1", "V2", "leg V2 left", "leg V2 right"} if name == "V2" else {name})


def test_the_live_pose_and_the_choice_stay(animal_scene) -> None:
    pose = turned_pose(animal_scene)
    move(animal_scene, "V1")
    op.place_element(reason="x")
    assert bpy.context.object["counterpoise_element"] == "V1"
    found = animal_scene.read_pose()
    for child, angles in pose.angles_rad.items():
        np.testing.assert_allclose(found.angles_rad[child], angles, rtol=0, atol=1e-5)
    np.testing.assert_allclose(found.X_WN, pose.X_WN, rtol=0, atol=1e-5)


def test_back_to_the_scanned_place(animal_scene) -> None:
    before = animal_scene.document
    contents = scene_contents()
    move(animal_scene, "V1")
    op.place_element(reason="x")
    move(animal_scene, "V1")
    op.place_element(reason="y")
    assert op.restore_place(element="V1") == {"FINISHED"}
    for one, two in zip(before.skeleton.elements, animal_scene.document.skeleton.elements, strict=True):
        np.testing.assert_allclose(two.X_WE, one.X_WE, rtol=0, atol=1e-12)
    assert_agrees(animal_scene, animal_scene.write_pose({}))
    assert scene_contents() == contents
    with pytest.raises(RuntimeError, match="stands where it was scanned"):
        op.restore_place(element="V1")


def test_undo_takes_document_and_element_back(animal_scene) -> None:
    text = animal_scene.settings.document.as_string()
    bpy.ops.ed.undo_push(message="before")
    move(animal_scene, "V1")
    bpy.ops.ed.undo_push(message="moved")
    assert op.place_element("EXEC_DEFAULT", True, reason="x") == {"FINISHED"}
    placed = animal_scene.settings.document.as_string()
    assert placed != text
    bpy.ops.ed.undo()
    assert animal_scene.settings.document.as_string() == text
    bpy.ops.ed.undo()
    assert_agrees(animal_scene, animal_scene.write_pose({}))
    bpy.ops.ed.redo()
    bpy.ops.ed.redo()
    assert animal_scene.settings.document.as_string() == placed
    assert_agrees(animal_scene, animal_scene.write_pose({}))


def test_the_panel_shows_what_was_placed(animal_scene, part) -> None:
    move(animal_scene, "V1", (0.0, 0.03, 0.04), np.radians(5))
    op.place_element(reason="leaned on the mount")
    ((shown,), _) = part("bridge.figures").drawn_places(bpy.context.scene)
    assert (shown.element, shown.text, shown.reason) == ("V1", "50 mm, 5.0°", "leaned on the mount")
    bpy.context.scene.unit_settings.system = "IMPERIAL"
    part("bridge.figures").refresh_figures(bpy.context)
    ((shown,), _) = part("bridge.figures").drawn_places(bpy.context.scene)
    assert shown.text == "2.0 in, 5.0°"
    op.restore_place(element="V1")
    assert part("bridge.figures").drawn_places(bpy.context.scene) == ((), ())


def test_a_move_that_was_not_taken_over_goes_when_the_rig_is_built_again(animal_scene) -> None:
    move(animal_scene, "V1")
    assert op.build_rig() == {"FINISHED"}
    assert_agrees(animal_scene, animal_scene.write_pose({}))


def test_what_cannot_be_placed_is_told_and_nothing_changes(animal_scene) -> None:
    text = animal_scene.settings.document.as_string()
    assert not op.place_element.poll()
    op.take_element(element="V1")
    assert op.place_element.poll()
    turned_pose(animal_scene)
    op.take_element(element="V1")
    for change, message in (
        (lambda _: None, "stands where the document has it"),
        (lambda proxy: setattr(proxy, "scale", (1.1, 1.0, 1.0)), "scaled or mirrored"),
    ):
        change(bpy.context.object)
        bpy.context.view_layer.update()
        with pytest.raises(RuntimeError, match=message):
            op.place_element(reason="x")
    bpy.context.object.scale = (1, 1, 1)
    move(animal_scene, "V1")
    with pytest.raises(RuntimeError, match="without a reason"):
        op.place_element(reason=" ")
    assert op.select_element(element="V5") == {"FINISHED"}
    with pytest.raises(RuntimeError, match="root has no joint"):
        op.place_element(reason="x")
    with pytest.raises(TypeError):
        op.take_element(element="V5")
    assert animal_scene.settings.document.as_string() == text
