"""Skeletons appended, linked, duplicated, shared by scenes: taken in with documents of their own, none lost."""

from __future__ import annotations

import shutil
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import bpy
import pytest
from scenes import Scene, scene_contents

op = bpy.ops.counterpoise
TEXT = "animal skeleton.json"


@pytest.fixture
def strays(part):
    """Names of what the scene could take in, and what each lacks."""
    return lambda: {own.name: own.lack for own in part("bridge.strays").list_strays(bpy.context.scene)}


@pytest.fixture
def source(animal_scene: Scene, tmp_path: Path) -> Path:
    """The animal with a bent pose, live and saved, in a folder of its own; another file is open, saved elsewhere."""
    place, other = tmp_path / "own" / "animal.blend", tmp_path / "other" / "other.blend"
    for path in (place, other):
        path.parent.mkdir()
    shutil.copytree(Path(bpy.data.filepath).parent / "scans", place.parent / "scans")
    op.find_meshes(directory=str(place.parent / "scans"))
    animal_scene.write_pose({"V3": (0.2, 0.0, 0.0)})
    op.save_pose(name="bent")
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(other))
    return place


class Layout:
    """Stands in for the panel's layout: keeps what is written, and the buttons with what they are given."""

    def __init__(self) -> None:
        self.words: list[str] = []
        self.buttons: list[tuple[str, SimpleNamespace]] = []

    def box(self) -> Layout:
        return self

    def column(self, **_given: object) -> Layout:
        return self

    def label(self, text: str, icon: str = "NONE") -> None:
        assert icon in bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items
        self.words.append(text)

    def operator(self, name: str, **_given: object) -> SimpleNamespace:
        assert getattr(op, name.partition(".")[2]).get_rna_type()
        self.buttons.append((name, SimpleNamespace()))
        return self.buttons[-1][1]


def draw(scene: Scene) -> tuple[str, list[tuple[str, SimpleNamespace]]]:
    """What panel 2 says of strays: in a sidebar of usual width."""
    region, system = SimpleNamespace(width=280), SimpleNamespace(ui_scale=1.0)
    preferences = SimpleNamespace(system=system)
    context = SimpleNamespace(scene=bpy.context.scene, region=region, preferences=preferences)
    layout = Layout()
    scene.part("panels.skeletons").draw_strays(layout, context)
    return " ".join(layout.words), layout.buttons


def append(path: Path, kind: str, name: str) -> None:
    bpy.ops.wm.append(directory=f"{path / kind}/", filename=name)


def is_whole(scene: Scene, states: set[str] | None = None) -> bool:
    """Figures, document, rig and elements agree, in the bent pose; and the scans are found."""
    kept, text = scene.part("bridge.kept_document"), scene.settings.document
    figures = scene.part("bridge.figures")
    figures.refresh_figures(bpy.context)
    assert figures.live_figures() is not None, figures.current_problem()
    checks = scene.part("core_calcs.document.meshes").check_meshes(scene.document, kept.text_path(text))
    assert {check.state for check in checks} == {"as recorded"}
    pose = scene.read_pose()
    assert pose.angles_rad["V3"][0] == pytest.approx(0.2, abs=1e-5)
    assert scene.place_error(pose)[0] < 1e-5 * scene.size_m()
    return [saved.name for saved in scene.document.poses] == ["as scanned", "bent"]


def test_an_appended_collection_brings_its_document(source, part, strays) -> None:
    scene = Scene(part)
    append(source, "Collection", "animal")
    assert strays() == {"animal": None}
    words, ((button, given),) = draw(scene)
    assert words == "animal is a skeleton in this file that the scene does not hold yet."
    assert (button, given.name) == ("counterpoise.take_in_skeleton", "animal")
    assert op.take_in_skeleton(name=given.name) == {"FINISHED"}
    assert strays() == {}
    assert draw(scene) == ("", [])
    assert is_whole(scene)
    assert [row.name for row in scene.settings.poses] == ["as scanned", "bent"]
    bpy.ops.wm.save_mainfile()
    bpy.ops.wm.open_mainfile(filepath=bpy.data.filepath)
    assert is_whole(scene)


def test_what_is_taken_in_goes_by_the_scene(source, part) -> None:
    """Its limits hold although they were let go where it comes from; no dashed lines hide its elements."""
    bpy.ops.wm.open_mainfile(filepath=str(source))
    bpy.context.scene.counterpoise.hold_limits = False
    bpy.ops.wm.save_mainfile()
    bpy.ops.wm.read_homefile(use_factory_startup=True)
    append(source, "Collection", "animal")
    scene, views = Scene(part), [area for area in bpy.context.screen.areas if area.type == "VIEW_3D"]
    assert views[0].spaces.active.overlay.show_relationship_lines
    assert op.take_in_skeleton(name="animal") == {"FINISHED"}
    limits = [bone.constraints.get("Joint limits") for bone in scene.rig.pose.bones]
    assert scene.settings.hold_limits
    assert any(limits)
    assert not any(limit.mute for limit in limits if limit is not None)
    assert not views[0].spaces.active.overlay.show_relationship_lines


def test_one_appended_twice_keeps_apart(source, part, strays) -> None:
    """Both came with the same mark; a joint fixed in the one leaves the other alone, and so does its removal."""
    scene = Scene(part)
    for name in ("animal", "animal.001"):
        append(source, "Collection", "animal")
        op.take_in_skeleton(name=name)
    marks = {text["counterpoise_mark"] for text in bpy.data.texts}
    assert len(marks) == len(bpy.data.texts) == 2
    assert op.set_joint(child="V7", fixed=True, reason="fused") == {"FINISHED"}
    assert is_whole(scene)
    bpy.data.objects.remove(scene.rig)
    part("bridge.undo_repair").put_back()  # as after an undo: the twin's rig is not taken for it
    assert scene.rig is None
    assert len(part("bridge.skeletons").list_proxies(bpy.context.scene)) == 13
    op.remove_skeleton()
    assert scene.settings.document.name == TEXT
    assert scene.document.skeleton.joint_of("V7").moves
    assert is_whole(scene)


@pytest.mark.parametrize(("kind", "name"), [("Object", "animal"), ("Text", TEXT)])
def test_a_rig_or_a_document_alone_is_built_again(source, part, strays, kind: str, name: str) -> None:
    scene = Scene(part)
    append(source, kind, name)
    op.take_in_skeleton(name=name)
    assert op.build_rig() == {"FINISHED"}
    if kind == "Text":
        op.restore_pose(name="bent")
    assert is_whole(scene)


def test_a_rig_without_its_document_says_what_to_do(animal_scene, part, strays, monkeypatch) -> None:
    """What an older version saved: the rig does not name its document."""
    rig = animal_scene.rig.copy()
    del rig["counterpoise_document"]
    bpy.context.scene.collection.objects.link(rig)
    (what, remedy) = strays()[rig.name]
    assert (what, remedy.split(",")[0]) == ("its document did not come along", "append its scene")
    with pytest.raises(RuntimeError, match="did not come along"):
        op.take_in_skeleton(name=rig.name)
    with pytest.raises(RuntimeError, match="waits to be taken in"):
        op.take_in_skeleton(name="nobody")


def test_an_older_blend_names_its_documents_when_it_is_saved(animal_scene, tmp_path: Path) -> None:
    del animal_scene.rig["counterpoise_document"]
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "again.blend"))
    assert animal_scene.rig["counterpoise_document"] == animal_scene.settings.document


def link_override(source: Path) -> None:
    bpy.ops.wm.link(directory=f"{source / 'Collection'}/", filename="animal")
    instance = bpy.context.object
    scene, layer = bpy.context.scene, bpy.context.view_layer
    instance.instance_collection.override_hierarchy_create(scene, layer, reference=instance, do_fully_editable=True)


def test_a_linked_rig_says_that_it_cannot_be_posed(source, strays, part) -> None:
    bpy.ops.wm.link(directory=f"{source / 'Collection'}/", filename="animal")
    told = "Make a library override of it (menu Object), and take that in."
    assert draw(Scene(part)) == (f"animal: it is linked, so that it cannot be posed here. {told}", [])
    assert strays()["animal"][0] == "it is linked, so that it cannot be posed here"
    with pytest.raises(RuntimeError, match="make a library override of it".capitalize()):
        op.take_in_skeleton(name="animal")
    assert bpy.context.scene.counterpoise.document is None


def test_a_library_override_is_posed_and_keeps_its_joints(source, part, strays) -> None:
    scene = Scene(part)
    link_override(source)
    (name,) = strays()
    assert op.take_in_skeleton(name=name) == {"FINISHED"}
    assert strays() == {}
    assert is_whole(scene)
    text = scene.settings.document.as_string()
    for step in (lambda: op.set_joint(child="V7", fixed=True, reason="x"), op.build_rig):
        with pytest.raises(RuntimeError, match="its joints are those of its own file"):
            step()
    assert scene.settings.document.as_string() == text
    op.note_pose(name="bent", note="here")
    scene.write_pose({"V3": (0.1, 0.0, 0.0)})
    bpy.ops.wm.save_mainfile()
    bpy.ops.wm.open_mainfile(filepath=bpy.data.filepath)
    assert scene.read_pose().angles_rad["V3"][0] == pytest.approx(0.1, abs=1e-5)
    assert scene.document.poses[-1].note == "here"
    op.restore_pose(name="bent")
    assert is_whole(scene)


def test_a_duplicated_rig_gets_a_document_of_its_own(animal_scene, strays) -> None:
    for thing in bpy.context.scene.objects:
        thing.hide_select = False
        thing.select_set(True)
    bpy.ops.object.duplicate()
    assert strays() == {"animal.001": None}
    op.take_in_skeleton(name="animal.001")
    op.set_joint(child="V3", fixed=True, reason="fused")
    for name, moves in ((f"{TEXT}.001", False), (TEXT, True)):
        op.choose_skeleton(name=name)
        assert animal_scene.document.skeleton.joint_of("V3").moves is moves
        assert animal_scene.place_error(animal_scene.read_pose())[0] < 1e-5 * animal_scene.size_m()


def scene_copy(kind: str) -> tuple[Any, Any]:
    first = bpy.context.scene
    bpy.ops.scene.new(type=kind)
    return first, bpy.context.scene


def test_a_full_copy_of_a_scene_is_told_and_parted(animal_scene, part) -> None:
    """Blender copies the rig and not the text block: two rigs of one document."""
    first, copy = scene_copy("FULL_COPY")
    find = part("bridge.strays").find_sharer
    assert (find(first), find(copy)) == (copy, first)
    words, ((button, _),) = draw(animal_scene)
    assert words == f"The scene {first.name} has a rig of the same document: what is changed here puts it out of step."
    assert button == "counterpoise.part_documents"
    assert op.part_documents() == {"FINISHED"}
    assert (find(first), find(copy), op.part_documents.poll()) == (None, None, False)
    op.set_joint(child="V3", fixed=True, reason="fused")
    op.remove_skeleton()
    bpy.context.window.scene = first
    assert animal_scene.document.skeleton.joint_of("V3").moves
    assert animal_scene.place_error(animal_scene.read_pose())[0] < 1e-5 * animal_scene.size_m()


def test_removing_from_a_linked_copy_of_a_scene_leaves_the_other_whole(animal_scene, part) -> None:
    first, copy = scene_copy("LINK_COPY")
    assert part("bridge.strays").find_sharer(copy) is None  # the same rig: nothing can be out of step
    contents = scene_contents()
    op.remove_skeleton()
    assert (len(copy.objects), copy.counterpoise.document) == (0, None)
    assert scene_contents() == contents
    bpy.context.window.scene = first
    assert animal_scene.place_error(animal_scene.read_pose())[0] < 1e-5 * animal_scene.size_m()


def test_elements_taken_off_the_rig_are_hung_on_it_again(animal_scene) -> None:
    before = scene_contents()
    bpy.data.objects["V3"].parent = None
    empty = bpy.data.objects.new("empty", None)
    bpy.data.objects["V4"].parent = empty
    op.build_rig()
    assert animal_scene.place_error(animal_scene.read_pose())[0] < 1e-5 * animal_scene.size_m()
    bpy.data.objects.remove(empty)
    assert scene_contents() == before


def test_a_document_that_was_deleted_is_told(animal_scene) -> None:
    """Deleted in the text editor: nothing else says why the panel is empty."""
    bpy.ops.ed.undo_push(message="before")
    bpy.data.texts.remove(animal_scene.settings.document)
    assert draw(animal_scene)[0].startswith("The text block with the skeleton's document was deleted. Ctrl Z brings it")
    bpy.ops.ed.undo_push(message="deleted")
    bpy.ops.ed.undo()
    assert animal_scene.settings.document.name == TEXT
    assert animal_scene.place_error(animal_scene.read_pose())[0] < 1e-5 * animal_scene.size_m()
