"""Somebody who pushes: put on an element at the 3-D cursor, and what it uses up of what holds."""

from __future__ import annotations

from dialog import push_for_dialog
from journey import Journey
from reading import DriveError

PUSH_KN = 0.02


def push_element(journey: Journey) -> None:
    window, bone = journey.window, journey.plan["bones"][0]
    window.point_at_view()
    x, y = window.state()["bones"][bone]
    window.click(x, y)
    window.wait(f"{bone} selected", lambda s: s["selected"] == [bone])
    window.put_cursor(x, y)
    window.fold("Site and Actions")
    dialog = push_for_dialog(window, "Add Action at Cursor")
    dialog.fill("Force, kN", f"{PUSH_KN:g}")
    dialog.fill("Name", "a hand")
    journey.note("action", f"Somebody who pushes {bone} where the 3-D cursor stands: how hard, which way", aside=False)
    dialog.answer()
    (act,) = window.wait("the action", lambda s: s["actions"])["actions"]
    if act != ["a hand", "push", bone]:
        raise DriveError(f"the document has {act}")
    window.fold("Site and Actions")
    window.fold("Saved Poses")
    window.find("Leading action")
    journey.note("acted", "What self-weight and the push use up of what holds against tipping and sliding")
    window.fold("Saved Poses")
