"""What touches the ground: a contact by hand, a foot let off in the live pose."""

from __future__ import annotations

from dialog import push_for_dialog
from journey import Journey
from reading import DriveError


def touch(journey: Journey) -> None:
    window, bone = journey.window, journey.plan["bones"][0]
    window.fold("4 Castings")
    window.fold("3 Pose")
    window.push("Ground Contacts")
    window.point_at_view()
    window.click(*window.state()["bones"][bone])
    window.wait(f"{bone} selected", lambda s: s["selected"] == [bone])
    before = window.state()["feet"]
    dialog = push_for_dialog(window, "Add Contact")
    dialog.fill("Name", "prop")
    journey.note("contact", "The dialog of Add Contact: what touches, and a name for it", aside=False)
    dialog.answer()
    state = window.wait("the contact", lambda s: len(s["feet"]) > len(before))
    if bone not in state["feet"]["prop"]:
        raise DriveError(f"the contact has {state['feet']['prop']}, not {bone}")
    window.find("lifted")
    journey.note("contacts", "What touches the ground and what it bears; the one added hangs in the air")
    foot = next(iter(before))
    window.push(foot)
    window.wait(f"{foot} let off", lambda s: s["idle"] == [foot])
    window.find("bears nothing")
    journey.note("let-off", f"{foot} let off in the live pose: the others bear")
    window.push(foot)
    window.wait(f"{foot} bears again", lambda s: not s["idle"])
