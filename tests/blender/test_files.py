"""Where the .blend goes, what is appended and linked: nothing is lost, and every skeleton finds its scans."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import bpy
import pytest
from scenes import Scene

op = bpy.ops.counterpoise


@pytest.fixture
def states(part):
    """What became of the mesh files of a scene's active skeleton, read anew from its text block."""

    def look(scene: bpy.types.Scene | None = None) -> set[str]:
        kept, text = part("bridge.kept_document"), (scene or bpy.context.scene).counterpoise.document
        checks = part("core_calcs.document.meshes").check_meshes(kept.keep_text(text).document, kept.text_path(text))
        return {check.state for check in checks}

    return look


@pytest.fixture
def posed(animal_scene: Scene, tmp_path: Path) -> Path:
    """The animal with a bent pose, saved in a folder of its own beside its scans."""
    place = tmp_path / "own" / "posed.blend"
    place.parent.mkdir()
    shutil.copytree(Path(bpy.data.filepath).parent / "scans", place.parent / "scans")
    op.find_meshes(directory=str(place.parent / "scans"))
    animal_scene.write_pose({"V3": (0.2, 0.0, 0.0)})
    op.save_pose(name="bent")
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    return place


def append_scene(path: Path, link: bool = False) -> bpy.types.Scene:
    with bpy.data.libraries.load(str(path), link=link) as (there, wanted):
        wanted.scenes = there.scenes
    bpy.context.window.scene = wanted.scenes[0]
    return wanted.scenes[0]


def test_a_copy_saved_elsewhere_leaves_the_open_file_as_it_was(posed, animal_scene, states, tmp_path: Path) -> None:
    text, copy = animal_scene.settings.document.as_string(), tmp_path / "far" / "off" / "copy.blend"
    copy.parent.mkdir(parents=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(copy), copy=True)
    assert (bpy.data.filepath, animal_scene.settings.document.as_string()) == (str(posed), text)
    assert states() == {"as recorded"}
    bpy.ops.wm.save_mainfile()
    for path in (posed, copy):
        bpy.ops.wm.open_mainfile(filepath=str(path))
        assert states() == {"as recorded"}


def test_a_blend_of_version_19_opens_with_all_that_it_says(posed, animal_scene, states) -> None:
    """The document's text block as version 19 had it: the same figures under the names that their keys had then."""
    op.weigh(name="V3", mass=2.5, uncertainty=0.125)
    text = animal_scene.settings.document
    now = text.as_string()
    before = re.sub(r'"version": \d+', '"version": 19', now.replace("uncertainty", "doubt"), count=1)
    assert before.count("doubt") > 10
    text.from_string(before)
    bpy.ops.wm.save_mainfile()
    bpy.ops.wm.open_mainfile(filepath=str(posed))
    assert states() == {"as recorded"}
    assert animal_scene.document.build.weighings[0].uncertainty_kg == 0.125
    animal_scene.write_pose({"V3": (0.1, 0.0, 0.0)})
    op.save_pose(name="bent more")
    after = animal_scene.settings.document.as_string()
    assert "doubt" not in after
    assert after.count("uncertainty") == now.count("uncertainty")
    assert after.splitlines()[:3] == now.splitlines()[:3]


def test_a_save_that_fails_leaves_everything_as_it_was(posed, animal_scene, states, tmp_path: Path) -> None:
    text = animal_scene.settings.document.as_string()
    with pytest.raises(RuntimeError, match="Cannot open file"):
        bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "no" / "such" / "folder" / "posed.blend"))
    assert (bpy.data.filepath, animal_scene.settings.document.as_string()) == (str(posed), text)
    assert states() == {"as recorded"}


def test_undo_after_saving_elsewhere_still_finds_the_scans(posed, animal_scene, states, tmp_path: Path) -> None:
    bpy.ops.ed.undo_push(message="before")
    op.note_pose("EXEC_DEFAULT", True, name="bent", note="quiet")
    (tmp_path / "deep" / "er").mkdir(parents=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "deep" / "er" / "posed.blend"))
    for step in (bpy.ops.ed.undo, bpy.ops.ed.redo):
        step()
        assert states() == {"as recorded"}
    bpy.ops.wm.save_mainfile()
    bpy.ops.wm.open_mainfile(filepath=bpy.data.filepath)
    assert animal_scene.document.poses[-1].note == "quiet"
    assert states() == {"as recorded"}


@pytest.mark.parametrize("with_scans", [True, False])
def test_a_blend_that_was_moved_finds_its_scans(posed, states, part, tmp_path: Path, with_scans: bool) -> None:
    """Those beside it first: whoever moves the folder moves both; else where they were when it was saved."""
    moved = tmp_path / "moved" / "posed.blend"
    moved.parent.mkdir()
    shutil.copy(posed, moved)
    if with_scans:
        shutil.copytree(posed.parent / "scans", moved.parent / "scans")
    bpy.ops.wm.open_mainfile(filepath=str(moved))
    assert states() == {"as recorded"}
    assert part("bridge.mesh_files").wrong_files(bpy.context.scene) == ()
    text = bpy.context.scene.counterpoise.document
    found = part("bridge.kept_document").text_path(text)
    assert found.parent == (moved if with_scans else posed).parent
    bpy.ops.wm.save_mainfile()
    assert states() == {"as recorded"}


@pytest.mark.parametrize("saved", [True, False])
def test_an_appended_scene_is_whole(posed, animal_scene, states, tmp_path: Path, saved: bool) -> None:
    """Into a file elsewhere, saved before or not: document, poses, rig, elements; and its scans are found."""
    text = animal_scene.settings.document.as_string()
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    place = tmp_path / "other" / "other.blend"
    place.parent.mkdir()
    if saved:
        bpy.ops.wm.save_as_mainfile(filepath=str(place))
    append_scene(posed)
    assert animal_scene.settings.document.as_string() == text
    assert animal_scene.read_pose().angles_rad["V3"][0] == pytest.approx(0.2, abs=1e-5)
    assert states() == {"as recorded"}
    op.save_pose(name="later")
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    bpy.ops.wm.open_mainfile(filepath=str(place))
    bpy.context.window.scene = next(scene for scene in bpy.data.scenes if scene.counterpoise.document is not None)
    assert [pose.name for pose in animal_scene.document.poses] == ["as scanned", "bent", "later"]
    assert states() == {"as recorded"}


def test_a_linked_scene_is_looked_at_and_not_changed(posed, animal_scene, states, part, tmp_path: Path) -> None:
    """Blender lets a script write into linked data, and loses it: every step says why not."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    place = tmp_path / "other" / "other.blend"
    place.parent.mkdir()
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    scene = append_scene(posed, link=True)
    text = scene.counterpoise.document
    before = text.as_string()
    figures = part("bridge.figures")
    figures.refresh_figures(bpy.context)
    assert figures.live_figures().mass.endswith(" kg")
    assert states() == {"as recorded"}
    for name in ("save_pose", "set_joint", "reset_pose", "remove_skeleton", "import_skeleton"):
        with pytest.raises(RuntimeError, match=r"linked from .*posed\.blend: open that file"):
            getattr(op, name)()
    kept = part("bridge.kept_document")
    with pytest.raises(part("core_calcs.spatial.errors").DocumentError, match="would not be saved"):
        kept.write_text(text, kept.keep_text(text).document)
    bpy.ops.wm.save_mainfile()
    assert text.as_string() == before
