"""The joint in hand: how far inside its range, found anew with other settings, its frame moved and taken over."""

from __future__ import annotations

from dialog import open_dialog, push_for_dialog
from journey import Journey
from reading import DriveError
from window import TABS_PX, Window

BEYOND_DEG, GAP_PERCENT, MOVED_M = 25, 2, "0.004"
REASON = "the disc is crushed"


def colour(journey: Journey) -> None:
    """A bone turned beyond its limits, which do not hold it: told by colour, dashes and words; then put back."""
    window, bone = journey.window, journey.plan["bones"][0]
    window.fold("2 Skeleton")
    window.push("Hold at Limits")
    window.fold("2 Skeleton")
    window.point_at_view()
    window.press("alt+a")
    if (state := window.state())["selected"]:
        raise DriveError(f"{state['selected']} still selected")
    find_in_view(window, "Inside the bony range")
    journey.note("ranges", "Every bone in the colour of how far inside its range its joint stands; the legend below")
    turn_beyond(window, bone)
    journey.note(
        "beyond", f"{bone} turned beyond its limits: dashed, ringed where it stops, the joint's heading says so"
    )
    window.press("alt+a")
    find_in_view(window, f"{bone}:")
    journey.note("told", "Nothing selected: the joint outside its range is named, with how far")
    window.push("Colour by Range")
    window.wait("colours off", lambda s: not s["ranges"])
    journey.note("plain", "Colour by Range off: the bones in the colours of their series")
    window.push("Colour by Range")
    window.fold("2 Skeleton")
    window.push("Hold at Limits")
    window.fold("2 Skeleton")
    window.point_at_view()
    window.press("a", "alt+r")
    window.wait("neutral", lambda s: not s["turns"])


def turn_beyond(window: Window, bone: str) -> None:
    window.click(*window.state()["bones"][bone])
    window.wait(f"{bone} selected", lambda s: s["selected"] == [bone])
    window.press("r", "x", "x", *str(BEYOND_DEG), "Return")
    window.wait("a joint outside", lambda s: s["live"]["outside"].startswith("1 "))
    window.find(f"{bone}:")


def search(journey: Journey) -> None:
    """Found anew as it was; then with a gap so tight that it turns less."""
    window, bone = journey.window, journey.plan["bones"][0]
    window.point_at_view()
    window.click(*window.state()["bones"][bone])
    window.wait(f"{bone} selected", lambda s: s["selected"] == [bone])
    window.fold("Joint")
    before = window.state()["limits"][bone]
    window.push("Search Again")
    window.wait("the search", lambda s: s["done"][-1:] == ["COUNTERPOISE_OT_search_joint"] and not s["running"], 120)
    if window.state()["limits"][bone] != before:
        raise DriveError(f"searched with its own settings {bone} has other limits")
    journey.note("as-before", f"The joint of {bone} searched again: it is as it was")
    y = window.find("Search Again").middle[1]
    left, _, width, _ = window.state()["regions"]["UI"]
    dialog = open_dialog(window, lambda: window.click(left + width - TABS_PX - 8, y))
    dialog.fill("Gap", str(GAP_PERCENT))
    journey.note("searching", "Search with other settings, in the dialog of the button beside it", aside=False)
    dialog.answer()
    tight = window.wait("tighter limits", lambda s: s["limits"][bone] != before and not s["running"], 120)
    wide, narrow = (sum(high - low for low, high in own) for own in (before, tight["limits"][bone]))
    if not narrow < wide:
        raise DriveError(f"with a gap of {GAP_PERCENT} % {bone} turns by {narrow} rad, before by {wide}")
    journey.note(
        "searched", "With less gap the joint turns less; where it stands at a limit now, a ring and words say so"
    )


def frame(journey: Journey) -> None:
    """The frame shown, moved with G, taken over with a reason: the limits are found anew about it."""
    window, bone = journey.window, journey.plan["bones"][0]
    before = window.state()["limits"][bone]
    window.push("Show Frame")
    window.wait("the frame", lambda s: s["active"] == f"Frame of {bone}" and s["mode"] == "OBJECT")
    window.point_at_view()
    window.press("g", "z", *(key if key != "." else "period" for key in MOVED_M), "Return")
    journey.note("frame", f"The frame of {bone} as an empty, moved; the panel offers to take it over")
    dialog = push_for_dialog(window, "Take Over Frame")
    dialog.fill("Reason", REASON)
    journey.note("taking", "Take Over Frame asks why", aside=False)
    dialog.answer()
    window.wait("other limits", lambda s: s["limits"].get(bone) not in (None, before) and not s["running"], 120)
    window.find("Show Frame")
    window.find(REASON)
    journey.note("taken", "Taken over, with the reason; the limits are those about the new frame")
    window.fold("Joint")


def check(journey: Journey) -> None:
    """The pose rests: by itself the panel says, after a while, what runs into what."""
    window = journey.window
    window.fold("Clearance")
    window.wait("clearance", lambda s: not s["running"] and s.get("hits") is not None, 300)
    window.find("Show in View")
    journey.note("clearance", "Once the pose rests: what runs into what, or that nothing does")
    window.fold("Clearance")


def find_in_view(window: Window, label: str) -> None:
    """A label drawn over the view."""
    window.find_on_screen(label, window.view_box())
