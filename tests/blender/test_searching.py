"""A joint searched for again, through the operator: settings, what was set by hand, undo, and the rig that follows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import bpy
import numpy as np
import pytest
import scenes
from scenes import Scene


def test_with_its_own_settings_nothing_changes(column: Scene) -> None:
    before = column.settings.document.as_string()
    assert bpy.ops.counterpoise.search_joint(child="L3") == {"FINISHED"}
    assert column.settings.document.as_string() == before


def test_other_settings_move_the_limits_of_joint_and_bone(column: Scene) -> None:
    before = column.bounds_of("L3")
    column.write_pose({"L3": np.array([0.02, 0.01, 0.0])})
    assert bpy.ops.counterpoise.search_joint(child="L3", contact=0, slide=0, gap=2.5) == {"FINISHED"}
    joint, after = column.document.skeleton.joint_of("L3"), column.bounds_of("L3")
    assert (joint.settings.contact_share_s, joint.settings.gap_share_s) == (0.0, 0.025)
    assert joint.settings.overlap_share == 0.5
    assert (np.abs(after) <= np.abs(before)).all()
    assert np.abs(after - before).max() > np.radians(1)
    limit = column.bone_of("L3").constraints["Joint limits"]
    flexion = np.sort(after[0] * joint.senses[0])
    np.testing.assert_allclose((limit.min_x, limit.max_x), flexion, atol=1e-4)
    np.testing.assert_allclose(column.read_pose().angles_rad["L3"], (0.02, 0.01, 0.0), atol=1e-5)


def test_the_joint_in_hand_is_taken_where_none_is_named(column: Scene) -> None:
    with pytest.raises(RuntimeError, match="none is in hand"):
        bpy.ops.counterpoise.search_joint()
    scenes.take_bone(column, "L2")
    assert bpy.ops.counterpoise.search_joint(gap=2) == {"FINISHED"}
    assert column.document.skeleton.joint_of("L2").settings.gap_share_s == 0.02
    assert column.document.skeleton.joint_of("L3").settings.gap_share_s == 0.15
    assert bpy.context.mode == "POSE"


def test_axes_that_are_too_much_together_are_told(column: Scene) -> None:
    """Each angle within its own limit, all three beyond what the joint allows at once: panel and view say so."""
    joint = column.document.skeleton.joint_of("L3")
    assert joint.envelope is not None
    column.settings.hold_limits = False
    scenes.take_bone(column, "L3")
    column.write_pose({"L3": 0.97 * column.bounds_of("L3")[:, 1]})
    column.part("bridge.figures").refresh_figures(bpy.context)
    shown = column.part("bridge.joint_in_hand").show_in_hand(bpy.context)
    assert "fails" not in [axis.state for axis in shown.axes]
    assert shown.settings.endswith("What its axes allow together was searched for as well")
    state, text = shown.range
    assert state == "fails"
    assert text.endswith("° beyond")
    assert shown.together == "inside each limit, outside what they allow together"
    stops = column.part("bridge.marks").find_stops(bpy.context)
    assert stops[-1].text == f"{text}: {shown.together}"
    assert not stops[-1].ringed
    column.write_pose({})
    column.part("bridge.figures").refresh_figures(bpy.context)
    shown = column.part("bridge.joint_in_hand").show_in_hand(bpy.context)
    assert shown.range[0] == "holds"
    assert shown.range[1].endswith("° inside")
    assert not shown.together


def test_what_was_set_by_hand_stays_unless_it_is_to_go(column: Scene) -> None:
    before = column.bounds_of("L3")
    scenes.set_joint("L3", (-0.25, 0, 0.3), (0, -1, 0), (-1, 0, 0), ((-0.1, 0.1),) * 3)
    text = column.settings.document.as_string()
    with pytest.raises(RuntimeError, match="set by hand"):
        bpy.ops.counterpoise.search_joint(child="L3")
    assert column.settings.document.as_string() == text
    assert bpy.ops.counterpoise.search_joint(child="L3", from_nothing=True) == {"FINISHED"}
    np.testing.assert_array_equal(column.bounds_of("L3"), before)


def test_a_missing_file_is_named_and_nothing_changes(column: Scene, column_blend: Path) -> None:
    text, file = column.settings.document.as_string(), column_blend.parent / "L3.stl"
    file.rename(file.with_suffix(".away"))
    try:
        with pytest.raises(RuntimeError, match=r"L3\.stl"):
            bpy.ops.counterpoise.search_joint(child="L3")
    finally:
        file.with_suffix(".away").rename(file)
    assert column.settings.document.as_string() == text


def test_one_undo_takes_it_back(column: Scene) -> None:
    bpy.ops.ed.undo_push(message="before")
    before = column.bounds_of("L3")
    bpy.ops.counterpoise.search_joint(child="L3", gap=2)
    bpy.ops.ed.undo_push(message="searched")
    assert (column.bounds_of("L3") != before).any()
    bpy.ops.ed.undo()
    np.testing.assert_array_equal(Scene(column.part).bounds_of("L3"), before)


def test_the_same_bones_are_not_searched_twice(
    column: Scene, part: Callable[[str], ModuleType], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Joints are kept in the extension's own folder, unless the user wants none kept; the skeleton is the same."""
    monkeypatch.delenv("COUNTERPOISE_CACHE", raising=False)
    own = part("bridge.own_cache")
    folder = own.open_own_cache().folder
    assert folder.is_relative_to(bpy.utils.resource_path("USER"))

    def build() -> tuple[str, str]:
        top = column.settings.mesh_folder
        given = {"folder": top, "table_path": column.settings.table_path, "unit": "mm", "name": "column"}
        assert bpy.ops.counterpoise.import_skeleton(**given) == {"FINISHED"}
        kept = part("bridge.kept_document").keep_document(bpy.context.scene)
        return part("core_calcs.document.reading").document_to_text(kept.document), bpy.data.texts["Joints"].as_string()

    first, notes = build()
    assert "cache" not in notes
    assert len(list(folder.glob("*.joint"))) == 2
    again, notes = build()
    assert again == first
    assert "2 of the 2 joints looked for were taken from the cache, 0 searched for." in notes
    preferences = bpy.context.preferences.addons[own._PACKAGE].preferences
    preferences.keep_joints = False
    try:
        assert own.open_own_cache() is None
        assert "cache" not in build()[1]
    finally:
        preferences.keep_joints = True
