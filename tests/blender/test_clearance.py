"""Clearance in Blender: looked for once, then it follows the pose; a click goes to the two elements."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
import scenes

CROSSED = {"leg V2 left": np.array([0.0, -0.4, 0.0])}
"""A leg swung inwards, far enough to run into its pair."""
PAIR = ("leg V2 left", "leg V2 right")


def live(part):
    bpy.context.view_layer.update()
    part("bridge.figures").refresh_figures(bpy.context)
    return part("bridge.figures").live_figures()


def state_of(figures):
    return {finding.name: finding.state for finding in figures.findings}["Nothing runs into another"]


@pytest.fixture
def checked(animal_scene, part):
    animal_scene.settings.hold_limits = False
    assert bpy.ops.counterpoise.check_clearance() == {"FINISHED"}
    return animal_scene


def test_nobody_has_looked_until_it_is_asked_for(animal_scene, part):
    part("bridge.clearance").drop_clearance()
    figures = live(part)
    assert figures.hits is None
    assert state_of(figures) == "not known"
    assert part("bridge.marks").find_hits(bpy.context) == ()


def test_the_live_pose_and_the_saved_ones_are_told_at_once(checked, part):
    figures = live(part)
    assert figures.hits == ()
    assert state_of(figures) == "holds"
    assert {state_of(saved) for saved in part("bridge.figures").saved_figures()} == {"holds"}


def test_a_turned_bone_makes_it_not_known_until_it_is_looked_at_again(checked, part):
    checked.write_pose(CROSSED)
    figures = live(part)
    assert figures.hits is None
    assert state_of(figures) == "not known"
    assert bpy.ops.counterpoise.check_clearance() == {"FINISHED"}
    figures = live(part)
    assert state_of(figures) == "fails"
    assert figures.hits[0].state == "fails"
    marks = part("bridge.marks").find_hits(bpy.context)
    assert [mark.state for mark in marks] == [hit.state for hit in figures.hits]
    assert marks[0].place == pytest.approx(figures.hits[0].place_m)
    assert all(name in marks[0].text for name in figures.hits[0].elements)
    checked.settings.overlays.hits = False
    assert part("bridge.marks").find_hits(bpy.context) == ()
    checked.write_pose({})
    assert state_of(live(part)) == "holds"  # known from before: nothing is tried again


def test_the_hits_are_those_of_the_core(checked, part, animal_blend):
    checked.write_pose(CROSSED)
    assert bpy.ops.counterpoise.check_clearance() == {"FINISHED"}
    clearance, kept = part("core_calcs.studies.clearance"), checked.document
    prepared = clearance.prepare_clearance(kept.skeleton, animal_blend.parent / "scans")
    found = clearance.find_clearance(prepared, checked.read_pose(), kept.site)
    shown = live(part).hits
    assert set(PAIR) in [set(hit.elements) for hit in shown]
    assert [hit.elements for hit in shown] == [hit.elements for hit in found.hits]
    for hit, own in zip(shown, found.hits, strict=True):
        assert hit.place_m == pytest.approx(tuple(own.place_m), abs=1e-5)


def test_a_click_selects_both_and_nothing_else(checked, part):
    assert bpy.ops.counterpoise.show_hit(first=PAIR[0], second=PAIR[1]) == {"FINISHED"}
    chosen = {thing["counterpoise_element"] for thing in bpy.context.selected_objects}
    assert chosen == set(PAIR)
    with pytest.raises(RuntimeError, match="not in the view"):
        bpy.ops.counterpoise.show_hit(first="V1", second="nobody")


def test_what_is_allowed_is_the_documents(checked, part):
    checked.write_pose(CROSSED)
    assert bpy.ops.counterpoise.allow_clearance(percent=400.0) == {"FINISHED"}
    assert checked.document.site.clearance_share_s == pytest.approx(4.0)
    assert bpy.ops.counterpoise.check_clearance() == {"FINISHED"}
    assert state_of(live(part)) in ("close", "holds")
    assert part("bridge.figures").drawn_clearance(bpy.context.scene) == ("Allowed 400 %", True)


def test_another_skeleton_is_not_taken_for_this_one(checked, part):
    kept = part("bridge.kept_document").keep_document(bpy.context.scene)
    assert part("bridge.clearance").find_known(kept) is not None
    scenes.set_joint("V2", (0.15, 0, 0.41), (0, 1, 0), (1.0, 0, 0.1), ((-0.5, 0.4),) * 3)
    kept = part("bridge.kept_document").keep_document(bpy.context.scene)
    assert part("bridge.clearance").find_known(kept) is None
    assert live(part).hits is None


def test_undo_keeps_what_is_known(checked, part):
    bpy.ops.ed.undo_push(message="before")
    checked.write_pose(CROSSED)
    bpy.ops.ed.undo_push(message="curled")
    bpy.ops.ed.undo()
    assert state_of(live(part)) == "holds"


def test_missing_files_are_told_and_nothing_is_kept(animal_scene, part, tmp_path):
    part("bridge.clearance").drop_clearance()
    text = animal_scene.settings.document
    text.from_string(text.as_string().replace('"mesh_folder": "', '"mesh_folder": "nowhere/'))
    with pytest.raises(RuntimeError, match="does not hold"):
        bpy.ops.counterpoise.check_clearance()
    assert live(part).hits is None


def test_marks_that_lie_apart_are_labelled_apart(part):
    group = part("draw.labels").group_anchors
    assert group([(0, 0), (500, 0), (90, 0), (180, 0)], 100.0) == [[0, 2, 3], [1]]
    assert group([], 100.0) == []
