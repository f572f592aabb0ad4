"""How somebody begins: the demo that comes in the zip, an empty scene's sidebar, the view's menu."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
import scenes
from scenes import Scene

op = bpy.ops.counterpoise

POSES = ["standing", "stooping", "running", "resting"]


def list_things() -> dict[str, list[str]]:
    """Names of all that the file holds, but for what Blender makes of itself."""
    kinds = ("objects", "collections", "meshes", "armatures", "texts", "materials", "scenes", "actions", "images")
    return {kind: sorted(own.name for own in getattr(bpy.data, kind)) for kind in kinds}


def live(part):
    """The live figures, brought up to date."""
    bpy.context.view_layer.update()
    part("bridge.figures").refresh_figures(bpy.context)
    return part("bridge.figures").live_figures()


@pytest.fixture(scope="module")
def demo_blend(tmp_path_factory: pytest.TempPathFactory, installed: None) -> Path:
    """The demo opened in the file that Blender begins with, and saved: cube, lamp and camera are in it."""
    bpy.ops.wm.read_homefile(use_factory_startup=True)
    assert op.open_demo() == {"FINISHED"}
    path = tmp_path_factory.mktemp("demo") / "demo.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    return path


@pytest.fixture
def demo(demo_blend: Path, empty_scene: None, part) -> Scene:
    """The demo, each time as it was saved."""
    bpy.ops.wm.open_mainfile(filepath=str(demo_blend))
    return Scene(part)


def test_the_demo_comes_into_a_fresh_file_beside_what_is_there(part) -> None:
    bpy.ops.wm.read_homefile(use_factory_startup=True)
    assert not bpy.app.online_access
    before = {own.name: own.matrix_world.copy() for own in bpy.data.objects}
    assert set(before) == {"Cube", "Light", "Camera"}
    assert op.open_demo() == {"FINISHED"}
    assert {name: bpy.data.objects[name].matrix_world for name in before} == before
    demo = Scene(part)
    elements = demo.document.skeleton.elements
    assert len(elements) == 251
    assert {own["counterpoise_element"] for own in bpy.data.objects if "counterpoise_element" in own} == {
        own.name for own in elements
    }
    turning = [joint for joint in demo.document.skeleton.joints if joint.moves]
    assert len(turning) > 100
    assert all(joint.limits for joint in turning)


def test_figures_balance_poses_and_side_by_side_are_there_at_once(demo: Scene, part) -> None:
    figures = live(part)
    assert float(figures.mass.split()[0]) > 500
    assert {finding.state for finding in figures.findings if finding.name == "Stands"} == {"holds"}
    saved = part("bridge.figures").saved_figures()
    assert [own.pose for own in saved] == POSES
    assert "fails" in {own.state for own in saved}, "at least one pose is seen to fail"
    assert [row.name for row in demo.settings.poses] == POSES
    assert part("bridge.comparison").compare_checked(bpy.context.scene).poses == tuple(POSES)
    _, studied = part("bridge.figures").drawn_live(bpy.context.scene)
    assert {foot.name for foot in studied.balance.feet} >= {"left foot", "right foot"}
    assert {chain.chain for chain in studied.balance.chains} >= {"neck", "tail"}
    assert demo.document.site.wind is not None
    assert len(demo.document.site.actions) == 2


def test_a_bone_of_the_neck_is_in_hand_and_turning_it_moves_the_figures(demo: Scene, part) -> None:
    assert bpy.context.mode == "POSE"
    bone = bpy.context.active_pose_bone
    assert bone.bone["counterpoise_element"] == "cervical 7"
    assert [own.name for own in bpy.context.selected_pose_bones] == [bone.name]
    before = live(part)
    assert op.turn_joint(lateral=0.1) == {"FINISHED"}
    turned = live(part)
    assert (turned.centre, turned.margin) != (before.centre, before.margin)
    bone.rotation_euler = (0.0, 0.0, 0.0)
    bone.rotation_euler.z = 0.05  # as Blender's own R does it
    by_hand = live(part)
    assert by_hand.centre not in (before.centre, turned.centre)


def test_saved_and_opened_again_it_is_the_same_and_finds_its_files(demo: Scene, part, tmp_path: Path) -> None:
    op.turn_joint(element="cervical 4", flexion=0.1)
    before = live(part)
    (tmp_path / "deep").mkdir()
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "deep" / "mine.blend"))
    bpy.ops.wm.read_homefile(use_factory_startup=True)
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "deep" / "mine.blend"))
    assert live(part) == before
    assert part("bridge.mesh_files").wrong_files(bpy.context.scene) == ()
    assert part("bridge.opened_demo").is_demo(bpy.context.scene)
    assert op.check_meshes() == {"FINISHED"}
    assert part("bridge.mesh_files").wrong_files(bpy.context.scene) == ()


def test_undo_takes_it_out_and_redo_brings_it_back(part) -> None:
    bpy.ops.wm.read_homefile(use_factory_startup=True)
    bpy.ops.ed.undo_push(message="Begin")
    before = list_things()
    assert op.open_demo("EXEC_DEFAULT", True) == {"FINISHED"}
    after, figures = list_things(), live(part)
    assert after != before
    bpy.ops.ed.undo()
    assert list_things() == before
    assert bpy.context.mode == "OBJECT"
    assert bpy.context.scene.counterpoise.document is None
    assert not bpy.context.scene.counterpoise.poses
    bpy.ops.ed.redo()
    assert list_things() == after
    assert live(part) == figures
    bpy.ops.ed.undo()
    assert op.open_demo("EXEC_DEFAULT", True) == {"FINISHED"}
    assert live(part) == figures


def test_opened_twice_it_is_refused_and_nothing_is_changed(demo: Scene, part) -> None:
    before, text = list_things(), demo.settings.document.as_string()
    with pytest.raises(RuntimeError, match="in a new file, or in another scene"):
        op.open_demo()
    assert (list_things(), demo.settings.document.as_string()) == (before, text)


def test_beside_another_skeleton_it_is_refused_but_not_in_another_scene(animal_scene: Scene, part) -> None:
    before, contents = list_things(), scenes.scene_contents()
    with pytest.raises(RuntimeError, match="in a new file, or in another scene"):
        op.open_demo()
    assert (list_things(), scenes.scene_contents()) == (before, contents)
    animal = bpy.context.scene
    bpy.ops.scene.new(type="NEW")
    assert op.open_demo() == {"FINISHED"}
    assert bpy.context.scene != animal
    assert Scene(part).document.skeleton.name == "quay strider"
    assert animal.counterpoise.document is not None
    assert not part("bridge.opened_demo").is_demo(animal)


def test_what_is_not_in_the_zip_is_said(part, monkeypatch, tmp_path: Path) -> None:
    monkeypatch.setattr(part("operators.beginning"), "DOCUMENT", tmp_path / "gone.json")
    before = list_things()
    with pytest.raises(RuntimeError, match=r"gone\.json: it is not there. Install the add-on's zip again"):
        op.open_demo()
    assert list_things() == before


def test_its_files_are_as_recorded_and_small(part) -> None:
    document = part("bridge.opened_demo").DOCUMENT
    read = part("core_calcs.document.reading").read_document(document)
    folder = part("core_calcs.document.meshes").locate_mesh_folder(read, document)
    checks = part("core_calcs.document.meshes").check_folder(read, folder)
    assert {check.state for check in checks} == {"as recorded"}
    assert sum(path.stat().st_size for path in document.parent.rglob("*")) < 12e6


def shown_panels() -> set[str]:
    """Panels of the tab, without those of others, that would be drawn now."""
    found = set()
    for panel in bpy.types.Panel.__subclasses__():
        name = panel.__name__.removeprefix("COUNTERPOISE_PT_")
        parents = [panel] if name != panel.__name__ else []
        while parents and getattr(parents[-1], "bl_parent_id", ""):
            parents.append(getattr(bpy.types, parents[-1].bl_parent_id))
        if parents and all(not hasattr(own, "poll") or own.poll(bpy.context) for own in parents):
            found.add(name)
    return found


def test_an_empty_scene_shows_where_to_begin_and_nothing_else(part, tmp_path: Path) -> None:
    assert shown_panels() == {"begin", "scans"}
    assert op.choose_scans(directory=str(tmp_path)) == {"FINISHED"}
    assert bpy.context.scene.counterpoise.mesh_folder == str(tmp_path)
    assert shown_panels() == {"begin", "scans", "skeleton"}
    with pytest.raises(RuntimeError, match="Choose one"):
        op.choose_scans(directory=" ")


def test_with_the_demo_the_tab_begins_with_what_to_try(demo: Scene) -> None:
    assert {"begin", "scans", "skeleton", "pose", "figures", "poses", "balance", "handover"} <= shown_panels()


def test_with_a_skeleton_of_ones_own_it_does_not(animal_scene: Scene) -> None:
    assert "begin" not in shown_panels()
    assert {"skeleton", "pose", "castings", "figures", "handover"} <= shown_panels()


class Recorder:
    """A layout that notes operators and goes into menus, as the search for commands does."""

    def __init__(self) -> None:
        self.found: list[tuple[str, str]] = []

    def separator(self) -> None: ...

    def operator(self, name: str, text: str = "", **_given: object) -> Recorder:
        self.found.append((name, text))
        return self

    def operator_menu_enum(self, name: str, _enum: str) -> None:
        self.found.append((name, ""))

    def menu(self, name: str, **_given: object) -> None:
        menu = getattr(bpy.types, name)
        menu.draw(type("Menu", (), {"layout": self})(), bpy.context)


def search(part) -> list[tuple[str, str]]:
    """What the search for commands (F3) finds in the 3D view's own menus."""
    layout = Recorder()
    part("panels.menus").draw_in_view(type("Menu", (), {"layout": layout})(), bpy.context)
    return layout.found


OF_A_ROW = {
    *("allow_clearance", "choose_skeleton", "delete_pose", "drop_frame", "duplicate_pose", "forget_weighing"),
    *("keep_pose_order", "let_bear", "move_pose", "note_pose", "part_documents", "put_back", "read_table"),
    *("remove_action", "remove_contact", "remove_discs", "remove_footing", "remove_pose_keyframes"),
    *("remove_reference", "remove_steelwork", "rename_pose", "restore_place", "select_element", "select_pose"),
    *("set_footing", "show_frame", "show_hit", "show_verdict", "take_element", "take_frame", "take_in_skeleton"),
    *("write_table", "find_meshes", "open_page", "heed_escape", "check_again"),
}
"""Operators that are about a row of a list, or follow another one: their buttons stand there alone."""


def test_the_search_finds_every_step_under_its_name(animal_scene: Scene, part) -> None:
    found = {name.partition(".")[2] for name, _ in search(part)}
    assert found | OF_A_ROW | {"open_demo"} >= set(dir(op)), "an operator that no menu has"
    assert not found & OF_A_ROW
    for name in found:
        assert getattr(op, name).get_rna_type().name
    labels = [getattr(op, name).get_rna_type().name for name in found]
    assert len(labels) == len(set(labels))
    assert ("counterpoise.restore_pose", animal_scene.settings.poses[0].name) in search(part)


def test_in_an_empty_scene_it_finds_where_to_begin(part) -> None:
    found = [name.partition(".")[2] for name, _ in search(part)]
    assert found == ["open_demo", "choose_scans", "open_document", "survey_folder", "import_skeleton"]


def test_the_menu_is_in_the_view_and_leaves_other_modes_alone(part) -> None:
    assert part("panels.menus").draw_in_view in bpy.types.VIEW3D_MT_editor_menus._dyn_ui_initialize()
    bpy.ops.mesh.primitive_cube_add()
    bpy.ops.object.mode_set(mode="EDIT")
    assert search(part) == []
    bpy.ops.object.mode_set(mode="OBJECT")
    assert search(part)


@pytest.mark.parametrize("offset", [(-1.5, 0.0, -0.5), (3.0, 0.0, -1.0)])
def test_a_body_asked_out_of_reach_is_not_turned_over(demo: Scene, offset: tuple[float, float, float]) -> None:
    """On two legs it would somersault about its hips to come nearer: it tilts by some 20 degrees and no more."""
    stood = demo.read_pose().X_WN[:3, :3]
    assert op.move_body(offset=offset) == {"FINISHED"}
    R = demo.read_pose().X_WN[:3, :3] @ stood.T
    tilt = np.degrees(np.arccos(np.clip((np.trace(R) - 1) / 2, -1, 1)))
    assert tilt < 30
