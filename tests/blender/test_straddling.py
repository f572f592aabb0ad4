"""What follows two elements half and half: Blender's evaluated place is the core's, in every pose."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
from scenes import Scene, inside_limits, random_rotation, scene_contents, set_joint
from test_contacts import pose_mode
from test_round_trip import ANGLE_RAD, assert_agrees

op = bpy.ops.counterpoise


@pytest.fixture
def straddling(animal_scene: Scene) -> Scene:
    """V1 between V2 and V3; a hind leg, fixed on V8, between V8 and V9, which comes after it in the tree."""
    assert op.straddle(element="V1", also="V3") == {"FINISHED"}
    assert op.set_joint(child="leg V8 left", fixed=True, reason="glued") == {"FINISHED"}
    assert op.straddle(element="leg V8 left", also="V9") == {"FINISHED"}
    return animal_scene


def test_every_proxy_is_where_the_core_has_it(straddling: Scene) -> None:
    rng = np.random.default_rng(21)
    for _ in range(5):
        X_WN = np.eye(4)
        X_WN[:3, :3], X_WN[:3, 3] = random_rotation(rng), rng.uniform(-1, 1, 3)
        angles = {joint.child: inside_limits(joint, rng) for joint in straddling.moving_joints()}
        assert_agrees(straddling, straddling.write_pose(angles, X_WN))
    assert_agrees(straddling, straddling.write_pose({}))


def test_a_joint_that_hangs_on_what_straddles_is_read_and_written(animal_scene: Scene) -> None:
    """V2 between V3 and V4; V1 and both fore legs hang on it and turn."""
    op.set_joint(child="V2", fixed=True, reason="glued")
    set_joint("V1", (0.21, 0, 0.4), (0, 1, 0), (1, 0, 0), ((-0.4, 0.4),) * 3)
    assert op.straddle(element="V2", also="V4") == {"FINISHED"}
    rng = np.random.default_rng(22)
    angles = {joint.child: inside_limits(joint, rng) for joint in animal_scene.moving_joints()}
    assert {"V1", "leg V2 left"} <= set(angles)
    assert_agrees(animal_scene, animal_scene.write_pose(angles))


def test_it_is_half_way(straddling: Scene) -> None:
    """V9 alone is bent by 0.3 rad: the leg turns by half of it about the same axis."""
    straddling.write_pose({"V9": np.array([0.3, 0.0, 0.0])})
    bpy.context.view_layer.update()
    turned = {o["counterpoise_element"]: np.array(o.matrix_world)[:3, :3] for o in straddling.rig.children}
    straddling.write_pose({})
    bpy.context.view_layer.update()
    rest = {o["counterpoise_element"]: np.array(o.matrix_world)[:3, :3] for o in straddling.rig.children}
    angles = [
        np.arccos((np.trace(turned[name] @ rest[name].T) - 1) / 2) for name in ("V9", "leg V8 left", "leg V8 right")
    ]
    np.testing.assert_allclose(angles[:2], (0.3, 0.15), rtol=0, atol=1e-5)
    assert angles[2] == pytest.approx(0, abs=1e-3)


def test_undo_and_rebuilding_and_following_one_again(straddling: Scene) -> None:
    rng = np.random.default_rng(23)
    angles = {joint.child: inside_limits(joint, rng) for joint in straddling.moving_joints()}
    assert op.build_rig() == {"FINISHED"}
    assert_agrees(straddling, straddling.write_pose(angles))
    contents = scene_contents()
    bpy.ops.ed.undo_push(message="before")
    assert op.straddle("EXEC_DEFAULT", True, element="V1", alone=True) == {"FINISHED"}
    assert straddling.document.skeleton.joint_of("V1").also is None
    assert_agrees(straddling, straddling.write_pose(angles))
    assert scene_contents() == contents
    bpy.ops.ed.undo()
    assert straddling.document.skeleton.joint_of("V1").also == "V3"
    assert_agrees(straddling, straddling.write_pose(angles))


def test_its_bones_cannot_be_turned_and_its_pose_is_not_read_from_them(straddling: Scene) -> None:
    bone = straddling.bone_of("V1")
    for own in (bone, straddling.rig.pose.bones[bone.constraints["Half with the second"].subtarget]):
        assert (own if hasattr(own, "hide") else own.bone).hide
    assert all(bone.lock_rotation)
    straddling.write_pose({"V4": np.array([0.2, 0.0, 0.0])})
    found = straddling.read_pose()
    assert set(found.angles_rad) == {"V4"}
    np.testing.assert_allclose(found.angles_rad["V4"], (0.2, 0, 0), rtol=0, atol=ANGLE_RAD)


def test_it_touches_the_ground_with_the_bone_it_hangs_on(straddling: Scene) -> None:
    pose_mode(straddling, "V2")
    assert op.add_contact(name="chin") == {"FINISHED"}
    assert [contact.element for contact in straddling.document.skeleton.feet[-1].contacts] == ["V2", "V1"]


def test_the_panel_shows_it(straddling: Scene, part) -> None:
    part("bridge.figures").refresh_figures(bpy.context)
    _, shown = part("bridge.figures").drawn_places(bpy.context.scene)
    assert sorted(shown) == [("V1", "V2, V3"), ("leg V8 left", "V8, V9")]


def test_placing_it_asks_for_neutral_and_then_follows_both(straddling: Scene) -> None:
    from test_places import move

    straddling.write_pose({"V3": np.array([0.3, 0.0, 0.0]), "V2": np.array([0.2, 0.0, 0.0])})
    move(straddling, "V1")
    with pytest.raises(RuntimeError, match="turned against each other"):
        op.place_element(reason="x")
    straddling.write_pose({})
    assert op.place_element(reason="x") == {"FINISHED"}
    rng = np.random.default_rng(24)
    angles = {joint.child: inside_limits(joint, rng) for joint in straddling.moving_joints()}
    assert_agrees(straddling, straddling.write_pose(angles))


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"element": "V1", "also": "V2"}, "both elements that it straddles are V2"),
        ({"element": "V1", "also": "V99"}, "V99"),
        ({"element": "V3", "also": "V5"}, "it turns, and cannot straddle"),
        ({"element": "V5", "also": "V3"}, "root has no joint"),
    ],
)
def test_what_cannot_be(animal_scene: Scene, given: dict[str, str], message: str) -> None:
    text = animal_scene.settings.document.as_string()
    with pytest.raises(RuntimeError, match=message):
        op.straddle(**given)
    assert animal_scene.settings.document.as_string() == text


def test_a_rig_from_a_table_that_says_so_follows_both(animal_files: tuple[Path, Path], tmp_path: Path, part) -> None:
    """V1, on V2, follows V3 as well, and one leg V9: by the table alone. Bent by .3, each turns by half of it."""
    folder, table = animal_files
    lines = table.read_text("utf-8").splitlines()
    header = lines[0].split(",")
    element, also = header.index("element"), header.index("also")
    cells = [line.split(",") for line in lines]
    for row in cells:
        row[also] = {"V1": "V3", "leg V8 left": "V9"}.get(row[element], row[also])
    (tmp_path / "elements.csv").write_text("\n".join(",".join(row) for row in cells) + "\n", "utf-8")
    op.import_skeleton(folder=str(folder), table_path=str(tmp_path / "elements.csv"), unit="mm", name="animal")
    scene = Scene(part)
    assert {j.child: j.also for j in scene.document.skeleton.joints if j.also} == {"V1": "V3", "leg V8 left": "V9"}
    for i, away in ((2, 1.0), (9, -1.0)):
        set_joint(f"V{i}", (0.06 * (5 - i) - 0.03 * away, 0, 0.4), (0, 1, 0), (away, 0, 0.1), ((-0.5, 0.4),) * 3)
    assert_agrees(scene, scene.write_pose({"V2": np.array([0.3, 0.0, 0.0]), "V9": np.array([0.2, -0.1, 0.1])}))
    turned = proxy_turns(scene)
    scene.write_pose({})
    rest = proxy_turns(scene)
    assert {n: turn_between(rest[n], turned[n]) for n in ("V1", "V2", "V3")} == pytest.approx(
        {"V1": 0.15, "V2": 0.3, "V3": 0}, abs=1e-3
    )
    assert turn_between(rest["leg V8 left"], turned["leg V8 left"]) == pytest.approx(
        turn_between(rest["V9"], turned["V9"]) / 2, abs=1e-5
    )


def proxy_turns(scene: Scene) -> dict[str, np.ndarray]:
    """(3, 3) by element, as Blender evaluates them."""
    bpy.context.view_layer.update()
    return {o["counterpoise_element"]: np.array(o.matrix_world)[:3, :3] for o in scene.rig.children}


def turn_between(one: np.ndarray, other: np.ndarray) -> float:
    return float(np.arccos(np.clip((np.trace(other @ one.T) - 1) / 2, -1, 1)))
