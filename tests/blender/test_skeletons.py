"""Several skeletons in one scene: each keeps its document, rig, proxies and figures; one is active."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
from scenes import Scene, scene_contents

op = bpy.ops.counterpoise

FIRST, SECOND = "animal skeleton.json", "animal skeleton.json.001"


@pytest.fixture
def two(animal_scene: Scene, tmp_path: Path) -> Scene:
    """The animal, bent, and the same document opened once more: the second is active, at its first pose."""
    animal_scene.write_pose({"V3": np.array([0.2, 0.0, 0.0])})
    op.save_pose(name="bent")
    path = tmp_path / "skeleton.json"
    op.save_document(filepath=str(path))
    assert op.open_document(filepath=str(path)) == {"FINISHED"}
    return animal_scene


def hanging(rig) -> set[str]:
    return {child["counterpoise_element"] for child in rig.children}


def test_the_new_one_is_active_and_the_first_rests(two) -> None:
    assert two.settings.document.name == SECOND
    assert [(r.document.name, r.rig.name) for r in two.settings.resting] == [(FIRST, "animal")]
    assert two.rig.name == "animal.001"
    assert len(hanging(two.rig)) == len(hanging(bpy.data.objects["animal"])) == 13


def test_each_keeps_pose_rows_and_figures(two, part) -> None:
    figures = part("bridge.figures")
    neutral = figures.live_figures()
    assert two.read_pose().angles_rad == {}
    op.delete_pose(name="as scanned")
    assert op.choose_skeleton(name=FIRST) == {"FINISHED"}
    assert two.rig.name == "animal"
    assert two.read_pose().angles_rad["V3"][0] == pytest.approx(0.2, abs=1e-5)
    assert figures.live_figures().centre != neutral.centre
    assert [figures.pose for figures in figures.saved_figures()] == ["as scanned", "bent"]
    assert [row.name for row in two.settings.poses] == ["as scanned", "bent"]
    op.choose_skeleton(name=SECOND)
    assert figures.live_figures() == neutral
    assert [row.name for row in two.settings.poses] == ["bent"]


def test_a_pose_goes_to_the_active_rig_alone(two) -> None:
    op.restore_pose(name="bent")
    op.choose_skeleton(name=FIRST)
    op.reset_pose()
    assert two.read_pose().angles_rad == {}
    op.choose_skeleton(name=SECOND)
    assert set(two.read_pose().angles_rad) == {"V3"}


def test_the_limits_of_all_rigs_let_go_together(two) -> None:
    two.settings.hold_limits = False
    rigs = [thing for thing in bpy.data.objects if thing.type == "ARMATURE"]
    assert len(rigs) == 2
    assert all(c.mute for rig in rigs for bone in rig.pose.bones for c in bone.constraints)


def test_lost_rigs_are_built_again_each_with_its_own_proxies(two) -> None:
    op.choose_skeleton(name=FIRST)
    before = {name: set(bpy.data.objects[name].children) for name in ("animal", "animal.001")}
    for name in before:
        bpy.data.objects.remove(bpy.data.objects[name])
    op.build_rig()
    assert set(two.rig.children) == before["animal"]
    op.choose_skeleton(name=SECOND)
    assert two.rig is None
    assert not op.save_pose.poll()
    op.build_rig()
    assert set(two.rig.children) == before["animal.001"]
    assert len(bpy.data.meshes) == 26


def test_removing_takes_all_of_one_and_nothing_of_the_other(animal_scene, tmp_path: Path) -> None:
    before = scene_contents()
    path = tmp_path / "skeleton.json"
    op.save_document(filepath=str(path))
    op.open_document(filepath=str(path))
    assert op.remove_skeleton() == {"FINISHED"}
    assert scene_contents() == before
    assert animal_scene.settings.document.name == FIRST
    assert len(animal_scene.settings.resting) == 0
    assert animal_scene.place_error(animal_scene.read_pose())[0] < 1e-5 * animal_scene.size_m()


def test_removing_the_last_leaves_an_empty_scene(animal_scene, part) -> None:
    mine = bpy.data.objects.new("mine", None)
    bpy.context.scene.collection.objects.link(mine)
    mine.parent = animal_scene.rig
    mine.location = (1, 2, 3)
    bpy.context.view_layer.update()
    op.remove_skeleton()
    left = scene_contents()
    assert left["objects"] == ["mine"]
    assert [left[kind] for kind in ("collections", "armatures", "meshes", "materials")] == [[], [], [], []]
    assert FIRST not in left["texts"]
    assert (animal_scene.settings.document, animal_scene.rig, len(animal_scene.settings.poses)) == (None, None, 0)
    np.testing.assert_allclose(mine.matrix_world.translation, (1, 2, 3), atol=1e-6)
    assert part("bridge.figures").live_figures() is None
    assert not op.remove_skeleton.poll()


def test_a_collection_that_holds_more_than_the_skeleton_stays(animal_scene) -> None:
    mine = bpy.data.objects.new("mine", None)
    bpy.data.collections["animal"].objects.link(mine)
    op.remove_skeleton()
    assert list(bpy.data.collections["animal"].objects) == [mine]


def test_a_document_that_another_scene_uses_stays(animal_scene) -> None:
    other = bpy.data.scenes.new("other")
    other.counterpoise.document = animal_scene.settings.document
    op.remove_skeleton()
    assert other.counterpoise.document.name == FIRST


def test_a_skeleton_that_is_not_there_is_refused(two) -> None:
    with pytest.raises(RuntimeError, match="no such skeleton"):
        op.choose_skeleton(name="nobody")
    assert two.settings.document.name == SECOND


def test_a_scene_of_before_opens_as_it_was(animal_scene, tmp_path: Path) -> None:
    """One pair, no rows, no marks on anything: what older versions wrote."""
    for thing in (*bpy.data.objects, *bpy.data.collections):
        thing.pop("counterpoise_mark", None)
    animal_scene.settings.poses.clear()
    path = tmp_path / "older.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    bpy.ops.wm.open_mainfile(filepath=str(path))
    op.save_pose(name="kept")
    assert [row.name for row in animal_scene.settings.poses] == ["as scanned", "kept"]
    op.build_rig()
    assert len(hanging(animal_scene.rig)) == 13
    op.remove_skeleton()
    assert scene_contents()["objects"] == []


def test_all_follow_the_blend_elsewhere(two, part, tmp_path: Path) -> None:
    place = tmp_path / "deep" / "er" / "two.blend"
    place.parent.mkdir(parents=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    meshes = part("core_calcs.document.meshes")
    for name in (FIRST, SECOND):
        op.choose_skeleton(name=name)
        assert {check.state for check in meshes.check_meshes(two.document, place)} == {"as recorded"}


def test_undo_brings_a_removed_skeleton_back(two) -> None:
    bpy.ops.ed.undo_push(message="before")
    op.remove_skeleton("EXEC_DEFAULT", True)
    assert two.settings.document.name == FIRST
    bpy.ops.ed.undo()
    assert two.settings.document.name == SECOND
    assert hanging(two.rig) == hanging(bpy.data.objects["animal"])
    assert [row.name for row in two.settings.poses] == ["as scanned", "bent"]
    assert two.rig["counterpoise_mark"] == two.settings.document["counterpoise_mark"] == two.settings.mark


def test_what_undo_can_lose_is_put_back(two, part) -> None:
    """As Blender's undo has been seen to lose it: the collections' place, rigs and document."""
    settings = two.settings
    resting, active, rig = settings.resting[0], settings.document, settings.rig
    first, homes = resting.rig, list(bpy.context.scene.collection.children)
    for home in homes:
        bpy.context.scene.collection.children.unlink(home)
    settings.rig = settings.document = resting.rig = None
    part("bridge.undo_repair").put_back()
    assert (settings.document, settings.rig, resting.rig) == (active, rig, first)
    assert set(bpy.context.scene.collection.children) == set(homes)


def test_proxies_without_their_rig_hang_on_it_again(two, part) -> None:
    """Their bones' names are what is left to them where Blender takes the parent away."""
    rig, hung = two.rig, hanging(two.rig)
    name, armature, home, mark = rig.name, rig.data, rig.users_collection[0], rig["counterpoise_mark"]
    bpy.data.objects.remove(rig)
    part("bridge.undo_repair").put_back()
    assert two.settings.rig is None  # one that was removed is not brought back
    again = bpy.data.objects.new(name, armature)
    home.objects.link(again)
    again["counterpoise_mark"] = mark
    part("bridge.undo_repair").put_back()
    assert two.settings.rig == again
    assert hanging(again) == hung
    bpy.context.view_layer.update()
    assert two.place_error(part("core_calcs.skeleton.pose").Pose("neutral"))[0] < 1e-5 * two.size_m()
