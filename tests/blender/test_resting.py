"""What is slow is found out beside Blender once the pose rests, left at the next turn, stopped by Esc."""

from __future__ import annotations

import time
from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from driving import Context, Manager
from spanish_screens import draw_panel, list_panels

CROSSED = {"leg V2 left": np.array([0.0, -0.4, 0.0])}
PAIR = {"leg V2 left", "leg V2 right"}


@pytest.fixture
def resting(animal_scene, part):
    animal_scene.settings.hold_limits = False
    bpy.ops.counterpoise.stand()
    own = part("bridge.resting")
    own.forget_checks()
    yield own
    own.stop_checks()
    own.forget_checks()
    own._end_worker()


def find_states(part):
    bpy.context.view_layer.update()
    part("bridge.figures").refresh_figures(bpy.context)
    return {own.name: own.state for own in part("bridge.figures").live_figures().findings}


def follow(resting, until=lambda: False) -> float:
    """The timer until nothing is left to do; how long its longest turn took [s]."""
    longest, end = 0.0, time.monotonic() + 60
    while resting.running_checks() is not None and not until():
        began = time.perf_counter()
        resting.follow_checks()
        longest = max(longest, time.perf_counter() - began)
        assert time.monotonic() < end, "the checks do not end"
        time.sleep(0.01)
    return longest


def test_a_pose_that_rests_is_checked_without_being_asked(resting, animal_scene, part) -> None:
    assert bpy.ops.counterpoise.set_wind(pressure=1e6, directions=6) == {"FINISHED"}
    part("bridge.wind")._shown.clear()
    animal_scene.write_pose(CROSSED)
    checks = part("core_calcs.studies.checks")
    overturning = part("core_calcs.studies.balance_checks").OVERTURNING
    states = find_states(part)
    assert states[checks.CLEARANCE] == "not known"
    objects, text = len(bpy.data.objects), animal_scene.settings.document.as_string()
    assert resting.begin_checks(bpy.context)
    assert resting.begin_checks(bpy.context)  # the same pose: nothing is begun anew
    first = resting.running_checks()
    assert follow(resting) < 0.2
    assert first.share == pytest.approx(1.0, abs=0.3)
    states = find_states(part)
    assert states[checks.CLEARANCE] == "fails"
    assert states[overturning] == "fails"
    hits = part("bridge.figures").live_figures().hits
    assert PAIR in [set(hit.elements) for hit in hits]
    assert not resting.begin_checks(bpy.context)
    assert (len(bpy.data.objects), animal_scene.settings.document.as_string()) == (objects, text)


def test_only_what_the_checks_answer_is_said_to_be_measured(resting, animal_scene, part) -> None:
    """Without wind they look for hits alone; in the air no wind tells whether it stands."""
    listed = part("panels.figures").list_measured
    clearance = part("core_calcs.studies.checks").CLEARANCE
    both = part("core_calcs.studies.balance_checks")
    animal_scene.write_pose(CROSSED)
    find_states(part)
    assert listed(bpy.context.scene) == {}
    assert resting.begin_checks(bpy.context)
    assert list(listed(bpy.context.scene)) == [clearance]
    resting.leave_pose()
    assert bpy.ops.counterpoise.set_wind(pressure=1e6, directions=6) == {"FINISHED"}
    part("bridge.wind")._shown.clear()
    find_states(part)
    assert resting.begin_checks(bpy.context)
    assert list(listed(bpy.context.scene)) == [clearance, both.OVERTURNING, both.SLIDING]
    resting.leave_pose()
    assert bpy.ops.counterpoise.move_body(offset=(0.0, 0.0, 1.0), hold_feet=False) == {"FINISHED"}
    find_states(part)
    assert resting.begin_checks(bpy.context)
    assert list(listed(bpy.context.scene)) == [clearance]


def test_the_next_turn_leaves_it_and_what_comes_late_is_dropped(resting, animal_scene, part) -> None:
    animal_scene.write_pose(CROSSED)
    assert resting.begin_checks(bpy.context)
    order = resting.running_checks().order
    resting.leave_pose()
    assert resting.running_checks() is None
    clearance = part("core_calcs.studies.clearance").Clearance((), 0)
    answer = part("core_calcs.studies.rest_checks").RestAnswer
    animal_scene.write_pose({name: angles / 2 for name, angles in CROSSED.items()})
    assert resting.begin_checks(bpy.context)
    assert not resting._take(answer(order.number, index=0, clearance=clearance))
    follow(resting)
    assert find_states(part)["Nothing runs into another"] != "not known"
    animal_scene.write_pose(CROSSED)
    assert find_states(part)["Nothing runs into another"] == "not known"


def test_with_its_skeleton_taken_out_it_ends(resting, animal_scene, part) -> None:
    animal_scene.write_pose(CROSSED)
    assert resting.begin_checks(bpy.context)
    resting.follow_checks()
    assert resting.running_checks() is not None
    assert bpy.ops.counterpoise.remove_skeleton() == {"FINISHED"}
    assert resting.follow_checks() is None
    assert resting.running_checks() is None


def test_esc_stops_it_and_passes_where_nothing_is_checked(resting, animal_scene, part) -> None:
    operator = part("operators.resting").COUNTERPOISE_OT_heed_escape
    own = SimpleNamespace(timer=None)
    own.cancel = lambda context: operator.cancel(own, context)
    context = Context(window_manager=Manager(), window=object())
    press = SimpleNamespace(type="ESC", value="PRESS")
    animal_scene.write_pose(CROSSED)
    assert resting.begin_checks(bpy.context)
    assert operator.invoke(own, context, press) == {"RUNNING_MODAL"}
    assert operator.modal(own, context, SimpleNamespace(type="MOUSEMOVE", value="NOTHING")) == {"PASS_THROUGH"}
    assert operator.modal(own, context, press) == {"CANCELLED"}
    assert context.window_manager.timers == []
    assert resting.running_checks() is None
    assert not resting.begin_checks(bpy.context)  # not again of the same pose
    assert operator.invoke(own, context, press) == {"RUNNING_MODAL"}
    assert operator.modal(own, context, press) == {"FINISHED", "PASS_THROUGH"}
    animal_scene.write_pose({})
    assert resting.begin_checks(bpy.context)


@pytest.mark.parametrize(
    ("tool", "in_use"),
    [("COUNTERPOISE_OT_bend_chain", True), ("TRANSFORM_OT_rotate", True), ("COUNTERPOISE_OT_heed_escape", False)],
)
def test_under_a_tool_nothing_is_begun_and_esc_is_the_tools(
    resting, animal_scene, part, monkeypatch, tool: str, in_use: bool
) -> None:
    operator, handlers = part("operators.resting").COUNTERPOISE_OT_heed_escape, part("bridge.handlers")
    window = SimpleNamespace(modal_operators=[SimpleNamespace(bl_idname=tool)])
    context = Context(window_manager=SimpleNamespace(windows=[window]))
    animal_scene.write_pose(CROSSED)
    assert resting.begin_checks(bpy.context)
    answer = operator.modal(SimpleNamespace(cancel=lambda _: None), context, SimpleNamespace(type="ESC", value="PRESS"))
    assert answer == ({"PASS_THROUGH"} if in_use else {"CANCELLED"})
    woken = []
    monkeypatch.setattr(handlers, "is_tool_in_use", lambda _: part("bridge.tools_in_use").is_tool_in_use(context))
    monkeypatch.setattr(handlers, "wake_checks", lambda: woken.append(True))
    assert handlers.settle_figures() == (handlers.REST_S if in_use else None)
    assert woken == ([] if in_use else [True])


def test_it_is_left_alone_where_the_user_wants_it_so(resting, animal_scene, part) -> None:
    preferences = bpy.context.preferences.addons[resting.ADDON].preferences
    animal_scene.write_pose(CROSSED)
    preferences.check_at_rest = False
    try:
        assert not resting.begin_checks(bpy.context)
    finally:
        preferences.check_at_rest = True


def test_what_was_known_before_is_kept_to_be_shown_greyed(resting, animal_scene, part) -> None:
    assert resting.begin_checks(bpy.context)
    follow(resting)
    assert find_states(part)["Nothing runs into another"] == "holds"
    animal_scene.write_pose(CROSSED)
    assert find_states(part)["Nothing runs into another"] == "not known"
    before, hits = part("bridge.figures").drawn_before(bpy.context.scene)
    assert before["Nothing runs into another"].state == "holds"
    assert hits == ()


def show(part) -> list[str]:
    """What the two panels say in English, figures first."""
    part("bridge.figures").refresh_figures(bpy.context)
    panels = [own for own in list_panels() if own.bl_idname.endswith(("PT_figures", "PT_clearance"))]
    return [text for own in sorted(panels, key=lambda own: own.bl_label) for text in draw_panel(own, {})]


def test_that_it_was_stopped_is_told_until_it_is_begun_anew(resting, animal_scene, part) -> None:
    animal_scene.write_pose(CROSSED)
    assert find_states(part)[part("core_calcs.studies.checks").CLEARANCE] == "not known"
    assert "Not known until the pose rests" in show(part)
    assert not bpy.ops.counterpoise.check_again.poll()
    assert resting.begin_checks(bpy.context)
    resting.stop_checks()
    told = " ".join(show(part))
    assert "The check at rest was stopped. The next turn of a bone begins it anew" in told
    assert "Not known: the check was stopped" in told
    assert "until the pose rests" not in told
    animal_scene.write_pose({})
    find_states(part)
    assert "stopped" not in " ".join(show(part))  # another pose
    animal_scene.write_pose(CROSSED)
    find_states(part)
    assert "stopped" in " ".join(show(part))
    assert bpy.ops.counterpoise.check_again() == {"FINISHED"}
    assert resting.running_checks() is not None or resting.begin_checks(bpy.context)
    follow(resting)
    assert "stopped" not in " ".join(show(part))
    assert find_states(part)["Nothing runs into another"] == "fails"


def test_where_it_is_switched_off_clearance_can_be_asked_for_in_every_pose(resting, animal_scene, part) -> None:
    preferences = bpy.context.preferences.addons[resting.ADDON].preferences
    preferences.check_at_rest = False
    try:
        assert bpy.ops.counterpoise.check_clearance() == {"FINISHED"}
        animal_scene.write_pose(CROSSED)
        find_states(part)
        told = " ".join(show(part))
        assert "Not checked in this pose" in told
        assert "until the pose rests" not in told
    finally:
        preferences.check_at_rest = True


def test_files_that_are_gone_are_told_once_and_not_asked_for_again(resting, animal_scene, part, monkeypatch, capsys):
    monkeypatch.setattr(resting, "locate_mesh_folder", lambda *_: "/nowhere")
    animal_scene.write_pose(CROSSED)
    assert resting.begin_checks(bpy.context)
    follow(resting)
    assert "/nowhere" in capsys.readouterr().out
    assert not resting.begin_checks(bpy.context)
    assert find_states(part)["Nothing runs into another"] == "not known"
    told = " ".join(show(part))
    assert "The pose could not be checked at rest: " in told
    assert "/nowhere" in told
    assert "Not known: it could not be checked" in told


def test_a_fault_of_the_checks_is_told_by_its_last_line(resting, animal_scene, part, capsys) -> None:
    animal_scene.write_pose(CROSSED)
    assert resting.begin_checks(bpy.context)
    trace = "Traceback (most recent call last):\n  somewhere\nValueError: worse than that\n"
    answer = part("core_calcs.studies.rest_checks").RestAnswer
    resting._take(answer(resting.running_checks().order.number, problem=trace, over=True))
    assert "somewhere" in capsys.readouterr().out
    assert "ValueError: worse than that" in " ".join(show(part))
    assert "somewhere" not in " ".join(show(part))
