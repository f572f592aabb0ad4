"""What is set by hand is recorded by itself: what, why, by whom, when; undo takes the record along, a file keeps it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import bpy
import pytest
from test_places import move

op = bpy.ops.counterpoise


def told(scene) -> list[tuple[str, str, tuple[str, ...], str, str]]:
    return [(own.kind, own.action, own.elements, own.why, own.by) for own in scene.document.records]


def titles(scene) -> list[str]:
    return [row.name for row in scene.settings.records]


@pytest.fixture
def fresh(animal_scene):
    """The animal, its records so far left aside: by whom from now on is told."""
    animal_scene.settings.recorded_by = " A. B. "
    animal_scene.before = len(animal_scene.document.records)
    return animal_scene


def new(scene) -> list[tuple[str, str, tuple[str, ...], str, str]]:
    return told(scene)[scene.before :]


def test_joints_set_while_the_animal_was_made_were_recorded_by_nobody(animal_scene) -> None:
    assert len(animal_scene.document.records) == 11
    assert {(own[1], own[3], own[4]) for own in told(animal_scene)} == {("joint set", "made up for the test", "")}
    assert titles(animal_scene)[0] == "Joint set: leg V8 right"


def test_a_joint_set_by_hand_is_recorded_with_reason_name_and_time(fresh) -> None:
    begun = datetime.now(UTC).replace(microsecond=0)
    assert op.set_joint(child="V3", flexion=(-0.2, 0.2), reason="cartilage") == {"FINISHED"}
    assert new(fresh) == [("override", "joint set", ("V3",), "cartilage", "A. B.")]
    record = fresh.document.records[-1]
    assert begun <= datetime.fromisoformat(record.when) <= datetime.now(UTC)
    assert "flexion -11.5 to 11.5°" in record.what
    assert op.set_joint(child="V3", fixed=True, reason="fused") == {"FINISHED"}
    assert new(fresh)[1:] == [("override", "joint fixed", ("V3",), "fused", "A. B.")]
    assert titles(fresh)[:2] == ["Joint fixed: V3", "Joint set: V3"]


def test_places_and_followers_are_recorded(fresh) -> None:
    move(fresh, "V1")
    assert op.place_element(reason="as drawn") == {"FINISHED"}
    assert op.restore_place(element="V1") == {"FINISHED"}
    assert op.straddle(element="V1", also="V3") == {"FINISHED"}
    assert op.straddle(element="V1", alone=True) == {"FINISHED"}
    assert [own[1:4] for own in new(fresh)] == [
        ("placed", ("V1",), "as drawn"),
        ("put back", ("V1",), ""),
        ("follows two", ("V1",), ""),
        ("put back", ("V1",), ""),
    ]


def test_what_is_no_override_leaves_no_record(fresh) -> None:
    for done in (
        lambda: op.save_pose(name="one"),
        lambda: op.note_pose(name="one", note="quiet"),
        op.stand,
        op.build_rig,
        lambda: op.allow_clearance(percent=3.0),
    ):
        assert done() == {"FINISHED"}
    with pytest.raises(RuntimeError, match="reason"):
        op.set_joint(child="V3", fixed=True, reason="")
    assert new(fresh) == []


def test_undo_takes_the_record_along_and_redo_brings_it_back(fresh) -> None:
    bpy.ops.ed.undo_push(message="Begin")
    assert op.set_joint("EXEC_DEFAULT", True, child="V3", fixed=True, reason="fused") == {"FINISHED"}
    after, rows = told(fresh), titles(fresh)
    bpy.ops.ed.undo()
    assert new(fresh) == []
    assert titles(fresh) == rows[1:]
    bpy.ops.ed.redo()
    assert (told(fresh), titles(fresh)) == (after, rows)


def test_a_file_keeps_records_and_the_name(fresh, tmp_path: Path) -> None:
    assert op.set_joint(child="V3", fixed=True, reason="fused") == {"FINISHED"}
    after, text = told(fresh), fresh.settings.document.as_string()
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "kept.blend"), copy=True)
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "kept.blend"))
    assert told(fresh) == after
    assert fresh.settings.document.as_string().count("fused") == text.count("fused")
    assert fresh.settings.recorded_by == " A. B. "
    assert titles(fresh)[0] == "Joint fixed: V3"


def test_the_record_selected_is_told_in_words(fresh, part) -> None:
    assert op.set_joint(child="V3", fixed=True, reason="fused") == {"FINISHED"}
    shown = part("bridge.records").show_record(bpy.context.scene)
    assert (shown.title, shown.why, shown.evidence, shown.by) == ("Joint fixed: V3", "fused", "not given", "A. B.")
    assert shown.what.startswith("fixed; before: flexion ")
    assert shown.when.endswith(" UTC")
    fresh.settings.record_index = 3
    assert part("bridge.records").show_record(bpy.context.scene).why == "made up for the test"


def test_nothing_can_be_put_back_where_nothing_was_put_right(fresh) -> None:
    assert not op.put_back.poll()
