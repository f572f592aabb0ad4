"""Corrections by hand: an element in another place, a joint told by faces that are selected on its facet."""

from __future__ import annotations

from dialog import open_dialog, push_for_dialog, type_and_enter
from journey import Journey
from poses import far
from reading import DriveError

REASON = "as in the field drawing"


def place(journey: Journey) -> None:
    """An element that no joint holds: taken, moved with G, placed with a reason."""
    window, name = journey.window, "Humerus.L"
    window.fold("3 Pose")
    window.fold("2 Skeleton")
    window.push("Places by Hand")
    open_dialog(window, lambda: window.push("Take Element"))
    type_and_enter(window, name)
    before = window.wait(f"{name} in hand", lambda s: s["active"] == name and s["mode"] == "OBJECT")["place"]
    window.point_at_view()
    window.press("g", "y", "0", "period", "0", "1", "Return")
    window.wait("it to move", lambda s: abs(far(s["place"], before) - 0.01) < 1e-5)
    dialog = push_for_dialog(window, "Place Element")
    dialog.fill("Reason", REASON)
    journey.note("placing", "The dialog of Place Element asks why", aside=False)
    dialog.answer()
    placed = window.wait("the place", lambda s: s["placed"])["placed"]
    if placed != {name: REASON}:
        raise DriveError(f"the document has {placed}")
    window.find("10 mm")
    journey.note("placed", f"{name} moved by 10 mm, with the reason; the arrow puts it back")


def follow(journey: Journey) -> None:
    """An element that is fixed follows a second one besides its parent."""
    window, (name, also) = journey.window, journey.plan["follow"]
    dialog = push_for_dialog(window, "Follow Two Elements")
    dialog.search("Element", name)
    dialog.search("Also Follows", also)
    journey.note(
        "following", "The dialog of Follow Two Elements: which, and what it follows besides its parent", aside=False
    )
    dialog.answer()
    state = window.wait("the second", lambda s: s["straddling"])
    if state["straddling"] != {name: also}:
        raise DriveError(f"the document has {state['straddling']}")
    window.find(name)
    journey.note("follows", f"{name} follows two elements, half and half; the cross lets it follow its parent alone")


def mark(journey: Journey) -> None:
    """The faces of a facet selected in Edit Mode tell a joint that was fixed."""
    window, parent, child = journey.window, *journey.plan["mark"]
    window.fold("Places by Hand")
    window.fold("1 Scans and Table")
    if window.state()["element"] != parent:
        window.push(parent)
    window.push("Show Element")
    window.wait(f"{parent} in hand", lambda s: s["active"] == parent)
    window.point_at_view()
    window.press("ctrl+KP_7", "KP_Divide", "Tab")  # from below, the element alone
    window.wait("Edit Mode", lambda s: s["mode"] == "EDIT")
    window.press("3", "alt+a")
    left, top, _, height = window.state()["regions"]["WINDOW"]
    sidebar = window.state()["regions"]["UI"][0]
    window.press("b")
    window.drag_box((left + 120, top + 60), (sidebar - 60, top + height - 60))
    chosen = window.wait("faces selected", lambda s: s["faces"])["faces"]
    window.fold("1 Scans and Table")
    window.fold("Set a Joint")
    dialog = push_for_dialog(window, "Mark Facet")
    dialog.search("Joint of", child)
    journey.note("marking", f"{chosen} faces of {parent} selected; Mark Facet asks for the joint", aside=False)
    dialog.answer()
    state = window.wait("the mark", lambda s: s["marked"], 120)
    if state["marked"] != {child: [parent]} or child not in state["turning"]:
        raise DriveError(f"marked {state['marked']}, turning {state['turning']}")
    window.point_at_view()
    window.press("KP_Divide", "ctrl+KP_1", "Home")  # all elements again
    journey.note("marked", f"The joint of {child} turns, by the facet marked on {parent}")
