"""The list of poses: every change goes to the document, the rows mirror it, what is refused leaves all as it was."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import Scene, inside_limits

op = bpy.ops.counterpoise


@pytest.fixture
def three(animal_scene: Scene) -> Scene:
    """Three poses: as scanned, low, high; the rig holds the last."""
    for name, turn in (("low", 0.1), ("high", -0.2)):
        animal_scene.write_pose({"V3": np.array([turn, 0.0, 0.0])})
        op.save_pose(name=name)
    return animal_scene


def names(scene: Scene) -> list[str]:
    """In the document; the rows say the same."""
    found = [pose.name for pose in scene.document.poses]
    assert [row.name for row in scene.settings.poses] == found
    assert [row.shown_name for row in scene.settings.poses] == found
    return found


def selected(scene: Scene) -> str:
    return scene.settings.poses[scene.settings.pose_index].name


def refuse(scene: Scene, operator, message: str, **given: object) -> None:
    text, index = scene.settings.document.as_string(), scene.settings.pose_index
    with pytest.raises(RuntimeError, match=message):
        operator(**given)
    assert scene.settings.document.as_string() == text
    assert scene.settings.pose_index == index
    names(scene)


def test_a_pose_that_is_saved_is_selected(three) -> None:
    assert names(three) == ["as scanned", "low", "high"]
    assert selected(three) == "high"


def test_renaming_keeps_place_angles_and_selection(three) -> None:
    assert op.rename_pose(name="low", new_name="  quiet ") == {"FINISHED"}
    assert names(three) == ["as scanned", "quiet", "high"]
    assert three.document.poses[1].angles_rad["V3"][0] == pytest.approx(0.1, abs=1e-5)
    assert selected(three) == "quiet"


@pytest.mark.parametrize(
    ("new_name", "message"), [("high", "a pose of that name"), ("", "name is empty"), ("  ", "name is empty")]
)
def test_a_name_that_clashes_or_is_empty_is_refused(three, new_name: str, message: str) -> None:
    refuse(three, op.rename_pose, message, name="low", new_name=new_name)


def test_a_name_of_two_lines_is_refused(three) -> None:
    refuse(three, op.rename_pose, "one line", name="low", new_name="a\nb")


def test_a_row_is_renamed_through_the_document(three, capfd) -> None:
    """As a double click does it."""
    row = three.settings.poses[1]
    row.shown_name = "quiet"
    assert names(three) == ["as scanned", "quiet", "high"]
    text = three.settings.document.as_string()
    row.shown_name = "high"
    assert "a pose of that name is in the document" in capfd.readouterr().out
    row.shown_name = ""
    assert "its name is empty" in capfd.readouterr().out
    assert three.settings.document.as_string() == text
    assert names(three) == ["as scanned", "quiet", "high"]


def test_poses_move_and_the_selection_goes_with_them(three) -> None:
    op.move_pose(name="high", places=-1)
    assert (names(three), selected(three)) == (["as scanned", "high", "low"], "high")
    op.move_pose(name="high", places=-1)
    op.move_pose(name="high", places=-1)
    assert (names(three), selected(three)) == (["high", "as scanned", "low"], "high")
    op.move_pose(name="as scanned", places=1)
    assert names(three) == ["high", "low", "as scanned"]


def test_a_copy_has_the_pose_and_its_note(three) -> None:
    op.note_pose(name="low", note="for the plinth ")
    op.duplicate_pose(name="low")
    assert (names(three), selected(three)) == (["as scanned", "low", "low copy", "high"], "low copy")
    copy = three.document.poses[2]
    assert copy.note == "for the plinth"
    np.testing.assert_array_equal(copy.angles_rad["V3"], three.document.poses[1].angles_rad["V3"])
    op.duplicate_pose(name="low", new_name="third")
    refuse(three, op.duplicate_pose, "a pose of that name", name="low", new_name="third")


def test_saving_over_keeps_name_place_and_note(three) -> None:
    op.note_pose(name="low", note="kept")
    op.save_pose(name="low", overwrite=True)
    assert names(three) == ["as scanned", "low", "high"]
    pose = three.document.poses[1]
    assert pose.note == "kept"
    assert pose.angles_rad["V3"][0] == pytest.approx(-0.2, abs=1e-5)


def test_deleting_leaves_the_selection_on_a_pose_that_is_there(three) -> None:
    op.delete_pose(name="high")
    assert (names(three), selected(three)) == (["as scanned", "low"], "low")
    op.delete_pose(name="as scanned")
    op.delete_pose(name="low")
    assert names(three) == []
    assert three.settings.pose_index == 0


@pytest.mark.parametrize("name", ["rename_pose", "duplicate_pose", "move_pose", "note_pose", "delete_pose"])
def test_a_pose_that_is_not_there_is_refused(three, name: str) -> None:
    refuse(three, getattr(op, name), "no pose of that name", name="nobody")


def test_an_operator_does_not_go_by_what_it_was_given_the_last_time(three) -> None:
    """Blender hands on properties from one press of a button to the next, unless told not to."""
    push = ("EXEC_DEFAULT", True)
    op.save_pose(*push, name="low", overwrite=True)
    with pytest.raises(RuntimeError, match="a pose of that name"):
        op.save_pose(*push, name="low")
    before = three.document.skeleton.joint_of("V4").X_WJ
    op.set_joint(*push, child="V3", fixed=True, centre=(0.1, 0.0, 0.4), reason="glued")
    op.set_joint(*push, child="V4", reason="looked at")
    joint = three.document.skeleton.joint_of("V4")
    assert (joint.moves, joint.reason) == (True, "looked at")
    np.testing.assert_array_equal(joint.X_WJ, before)


def test_rows_are_made_anew_where_the_text_was_changed_by_hand(three, part) -> None:
    text = three.settings.document
    text.from_string(text.as_string().replace('"name": "low"', '"name": "by hand"'))
    part("bridge.pose_rows").mirror_poses(bpy.context.scene)
    assert names(three) == ["as scanned", "by hand", "high"]


def test_a_blend_without_rows_gets_them(three, part) -> None:
    three.settings.poses.clear()
    part("bridge.pose_rows").mirror_poses(bpy.context.scene)
    assert names(three) == ["as scanned", "low", "high"]


def test_figures_stand_by_the_name_of_their_pose_with_its_note(three, part) -> None:
    op.note_pose(name="low", note="seen from the left")
    shown = part("bridge.figures").saved_figures()
    assert [figures.pose for figures in shown] == names(three)
    assert [figures.note for figures in shown] == ["", "seen from the left", ""]
    assert [figures.outside_short for figures in shown] == ["0", "0", "0"]


def fail(*_args: object, **_how: object) -> None:
    raise ZeroDivisionError("made to fail")


def test_a_fault_of_our_own_leaves_no_old_figures_on_show(three, part, monkeypatch, capfd) -> None:
    figures = part("bridge.figures")
    assert figures.live_figures() is not None
    monkeypatch.setattr(figures, "read_live_pose", fail)
    assert figures.refresh_figures(bpy.context)
    assert figures.live_figures() is None
    assert "made to fail" in figures.current_problem()
    assert "Traceback" in capfd.readouterr().err
    assert not figures.refresh_figures(bpy.context)
    assert capfd.readouterr().err == ""  # told once, not at every turn of a bone
    monkeypatch.undo()
    assert figures.refresh_figures(bpy.context)
    assert figures.current_problem() == ""
    assert figures.live_figures() is not None


def test_one_pose_that_fails_does_not_hide_the_others(three, part, monkeypatch) -> None:
    figures = part("bridge.figures")
    assess = figures.assess_prepared
    monkeypatch.setattr(
        figures,
        "assess_prepared",
        lambda kept, pose, *rest, **how: (fail if pose.name == "low" else assess)(kept, pose, *rest, **how),
    )
    figures.drop_figures()
    figures.refresh_figures(bpy.context)
    first, low, high = figures.saved_figures()
    assert (low.pose, low.state, low.margin, low.mass) == ("low", "not known", "not known", "not known")
    assert "made to fail" in low.findings[0].text
    assert "not known" not in (first.mass, high.mass)


def test_a_text_that_somebody_broke_shows_no_figures(three, part) -> None:
    figures = part("bridge.figures")
    three.settings.document.from_string("{")
    assert figures.refresh_figures(bpy.context)
    assert (figures.live_figures(), figures.saved_figures()) == (None, ())
    assert "text block" in figures.current_problem()


def test_tipping_is_told_in_a_sentence_and_rounding_in_words(three, part) -> None:
    figures = part("bridge.figures")
    texts = {finding.name: finding.text for finding in figures.saved_figures()[0].findings}
    assert texts["Equilibrium"].startswith("Balanced to rounding")
    rng = np.random.default_rng(11)
    three.write_pose({joint.child: 0.5 * inside_limits(joint, rng) for joint in three.moving_joints()})
    op.stand()
    live = figures.live_figures()
    texts = {finding.name: finding.text for finding in live.findings}
    assert live.margin.startswith("-")
    assert texts["Stands"].startswith(
        f"The centre of mass stands {live.margin[1:]} outside the feet: it tips, hind left"
    )
