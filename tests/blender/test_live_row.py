"""What the timer computes while a bone is dragged: from what was read a moment ago, and never from what was written."""

from __future__ import annotations

import gc
import time

import bpy
import pytest


def test_a_text_is_not_read_again_while_a_bone_is_dragged(animal_scene, part, monkeypatch: pytest.MonkeyPatch) -> None:
    kept, scene = part("bridge.kept_document"), bpy.context.scene
    with kept.hold_texts():
        held = kept.keep_document(scene)
    changed = animal_scene.settings.document.as_string().replace('"name": "animal"', '"name": "another"')
    animal_scene.settings.document.from_string(changed)
    with kept.hold_texts():
        assert kept.keep_document(scene) is held
    assert kept.keep_document(scene).document.skeleton.name == "another"  # as any operator reads it
    now = time.monotonic()
    monkeypatch.setattr(kept.time, "monotonic", lambda: now + 2 * kept.HELD_S)
    with kept.hold_texts():
        assert kept.keep_document(scene).document.skeleton.name == "another"


def test_what_the_add_on_writes_counts_at_once(animal_scene, part) -> None:
    kept, scene = part("bridge.kept_document"), bpy.context.scene
    with kept.hold_texts():
        kept.keep_document(scene)
    bpy.ops.counterpoise.save_pose(name="one more")
    with kept.hold_texts():
        assert [pose.name for pose in kept.keep_document(scene).document.poses][-1] == "one more"


def test_lists_follow_a_document_that_was_changed_by_hand(animal_scene, part) -> None:
    handlers, settings = part("bridge.handlers"), animal_scene.settings
    bpy.ops.counterpoise.save_pose(name="first")
    handlers.refresh_scene(bpy.context)
    assert "first" in settings.poses
    settings.document.from_string(settings.document.as_string().replace('"name": "first"', '"name": "renamed"'))
    handlers.refresh_scene(bpy.context)
    assert "renamed" in settings.poses
    assert "first" not in settings.poses


def test_bones_are_found_again_once_they_have_other_names(animal_scene, part) -> None:
    before = animal_scene.read_pose()
    bone = animal_scene.bone_of(animal_scene.rig.data.bones[0]["counterpoise_element"])
    bone.name = "renamed by hand"
    after = animal_scene.read_pose()
    assert (after.X_WN == before.X_WN).all()


def test_what_blender_has_loaded_is_not_looked_through_while_a_bone_is_dragged(installed, part) -> None:
    assert gc.get_freeze_count() > 0.5 * (gc.get_freeze_count() + len(gc.get_objects()))
    part("bridge.handlers").unregister()
    assert gc.get_freeze_count() == 0
    part("bridge.handlers").register()
