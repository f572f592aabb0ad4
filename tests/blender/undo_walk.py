"""Random steps with undo, redo, save, reopen in between: scene, document and figures stay in step with a plain model.

The model is plain Python, changed step by step beside Blender; the history keeps it for every position. After each
step rig, proxies, rows, document and figures are held against it. After undo and redo the text blocks and the bones'
channels must be what they were at that position, bit by bit; the angles read back follow the model to single precision.
Not collected by itself: test_undo.py runs each walk in a Blender of its own, for Blender can die in its own undo.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest
from random_picture_steps import list_references
from random_steps import Walk
from scenes import Scene, name_neck
from walk_model import Motion, read_parts

STEPS = 200
ANGLE_RAD = 2e-6
"""Bones keep their turns in single precision, and a rig that is built anew takes them over as read: over 20 walks of
200 steps the greatest difference measured was 2e-7 rad."""
BY_HAND = ("turn", "lose_rig", "lose_proxy", "move_parent", "reopen", "change_frame")
"""Steps after which no operator of the add-on has computed."""
PLACE_M = 1e-5
"""The animal is half a metre long; single precision holds 3e-8 m there, and turns add up along the column."""


def check(walk: Walk, part: Callable[[str], Any], kind: str, travelled: bool) -> None:
    """Everything is in step with the model."""
    scene, model, own = walk.scene, walk.model, walk.model.own
    settings = scene.settings
    texts = [settings.document.name, *(resting.document.name for resting in settings.resting)]
    assert (texts[0], sorted(texts)) == (model.active, sorted(model.skeletons))
    document = scene.document
    check_document(walk, document)
    assert [row.name for row in settings.poses] == [pose.name for pose in own.poses]
    concerns = [(action, ", ".join(names) or "the site") for action, *names, _ in own.records]
    titles = [f"{action[:1].upper()}{action[1:]}: {what}" for action, what in concerns]
    assert [row.name for row in settings.records] == titles[::-1]
    assert (settings.pose_list.sort, settings.pose_list.reverse) == walk.model.shown
    assert list_references(walk) == walk.model.references
    assert 0 <= settings.pose_index < max(1, len(own.poses))
    assert (scene.rig is None) == (own.rig is None)
    keyed = part("bridge.keyframes").find_keyframes(scene.rig) is not None
    assert keyed == (own.keyed is not None)
    if own.rig is not None:
        pose = scene.read_pose()
        assert tuple(sorted(pose.idle_feet)) == own.rig.idle
        check_rig(walk, pose)
    check_figures(scene, document, part, kind, travelled)


def compare(walk: Walk, angles: Any, X_WN: np.ndarray, wanted: Motion) -> None:
    for child in {*angles, *wanted.angles}:
        off = np.abs(angles.get(child, np.zeros(3)) - wanted.angles.get(child, np.zeros(3))).max()
        walk.worst_rad = max(walk.worst_rad, float(off))
        assert off < ANGLE_RAD, child
    np.testing.assert_allclose(X_WN, wanted.X_WN, rtol=0, atol=PLACE_M)


def check_document(walk: Walk, document: Any) -> None:
    own = walk.model.own
    assert [(pose.name, pose.note) for pose in document.poses] == [(pose.name, pose.note) for pose in own.poses]
    for pose, wanted in zip(document.poses, own.poses, strict=True):
        compare(walk, pose.angles_rad, pose.X_WN, wanted.motion)
    assert {joint.child: (joint.moves, joint.reason) for joint in document.skeleton.joints} == own.joints
    assert {element.name: element.source.file for element in document.skeleton.elements} == own.files
    assert [pose.name for pose in document.poses if pose.mounted] == [pose.name for pose in own.poses if pose.mounted]
    assert [(record.action, *record.elements, record.why) for record in document.records] == own.records
    assert [tuple(sorted(pose.idle_feet)) for pose in document.poses] == [pose.motion.idle for pose in own.poses]
    assert [foot.name for foot in document.skeleton.feet] == own.feet
    for name, found in read_parts(document).items():
        wanted = getattr(own, name)
        assert found == (wanted if name != "marks" else {child: of for child, of in wanted.items() if of}), name


def check_rig(walk: Walk, pose: Any) -> None:
    """The rig holds the model's pose, and every proxy stands where the core puts its element."""
    compare(walk, pose.angles_rad, pose.X_WN, walk.model.own.rig)
    places, directions = walk.scene.place_error(pose, walk.model.own.lost)
    assert places < PLACE_M
    assert directions < ANGLE_RAD


def check_figures(scene: Scene, document: Any, part: Callable[[str], Any], kind: str, travelled: bool) -> None:
    """What is shown is what comes out of the text block and the evaluated rig by a calculation from the beginning."""
    figures, text = part("bridge.figures"), part("bridge.figure_text")
    if travelled:  # whatever is shown before the timer has computed must not be of another position
        assert figures.live_figures() is None
        assert figures.saved_figures() == ()
    if travelled or kind in BY_HAND:  # without a window no timer runs: here is what it does
        figures.refresh_figures(bpy.context)
    prepared = part("core_calcs.studies.prepared").prepare(document.skeleton, document.build)
    summarise = part("core_calcs.studies.assess").summarise_prepared
    units = part("bridge.units").scene_units(bpy.context.scene)
    shown = figures.saved_figures()
    assert [pose.note for pose in shown] == [pose.note for pose in document.poses]
    for pose, found in zip(document.poses, shown, strict=True):
        fresh = text.word_figures(summarise(prepared, pose, document.site), units)
        assert (found.pose, found.margin, found.findings) == (fresh.pose, fresh.margin, fresh.findings)
    if scene.rig is None:
        assert figures.live_figures() is None
        assert "rig is gone" in figures.current_problem()
    else:
        assert figures.live_figures() == text.word_figures(summarise(prepared, scene.read_pose(), document.site), units)


@pytest.fixture
def column_document(column: Scene, tmp_path: Path) -> Path:
    """The column's document as a file."""
    path = tmp_path / "column.json"
    bpy.ops.counterpoise.save_document(filepath=str(path))
    return path


@pytest.fixture
def animal(column_document: Path, animal_blend: Path, part: Callable[[str], Any]) -> Scene:
    """The animal with a neck, in the scene."""
    bpy.ops.wm.open_mainfile(filepath=str(animal_blend))
    scene = Scene(part)
    name_neck(scene)
    return scene


@pytest.fixture
def document(animal: Scene, tmp_path: Path) -> Path:
    """The animal's document as a file."""
    path = tmp_path / "skeleton.json"
    bpy.ops.counterpoise.save_document(filepath=str(path))
    return path


@pytest.fixture
def walk(
    animal: Scene, document: Path, column_document: Path, part: Callable[[str], Any]
) -> Iterator[Callable[[int], None]]:
    """Walks with a seed, checking every step."""

    def go(seed: int, steps: int = STEPS) -> None:
        walk = Walk(animal, document, column_document, seed)
        for number in range(steps):
            kind, travelled = walk.step()
            try:
                check(walk, part, kind, travelled)
            except AssertionError as error:
                raise AssertionError(f"step {number}, {kind}, position {walk.position}: {error}") from error
        print(f"seed {seed}, {steps} steps: {walk.positions} positions, angles off by {walk.worst_rad:.1e} rad")
        print(", ".join(f"{kind} {count}" for kind, count in sorted(walk.taken.items())))

    editing = bpy.context.preferences.edit
    steps, editing.undo_steps = editing.undo_steps, 256
    yield go
    editing.undo_steps = steps


@pytest.mark.parametrize("seed", range(100))
def test_every_step_can_be_undone_and_done_again(walk, seed: int) -> None:
    walk(seed)


@pytest.mark.parametrize("seed", range(10))
def test_a_thousand_steps_on_end(walk, seed: int) -> None:
    walk(seed, 1000)


def test_figures_kept_over_an_undo_are_noticed(walk, part) -> None:
    """The walk has teeth: without the handler that drops results it fails."""
    drop, handlers = part("bridge.handlers").forget_results, bpy.app.handlers.undo_post
    handlers.remove(drop)
    try:
        with pytest.raises(AssertionError, match="undo, position"):
            walk(0)
    finally:
        handlers.append(drop)
