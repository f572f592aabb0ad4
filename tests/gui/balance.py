"""How a pose stands and pulls, over the view and in the panel; poses side by side; in Blender's light theme too."""

from __future__ import annotations

from dialog import push_for_dialog
from journey import Journey
from poses import place_row, press_restore
from themes import note_light

CHECK_PX = 34
"""From the left edge of the sidebar to the boxes in the rows of the list."""


def show_balance(journey: Journey) -> None:
    """The pose that stands, seen from aside and above; then its joint moments, in both themes."""
    window = journey.window
    press_restore(window, journey.plan["stands"])
    window.wait("the pose", lambda s: not s["live"]["margin"].startswith("-"))
    window.fold("Saved Poses")
    window.find("Base force")
    window.point_at_view()
    window.press(*["KP_8"] * 2, *["KP_6"] * 3)
    window.frame_all()
    rose, moments = window.find("Tip Angle Rose").middle, window.find("Joint Moments").middle
    window.click(*rose)
    window.wait("the rose", lambda s: s["rose"])
    window.point_at_view()
    journey.note("balance", "The centre of mass over the support polygon, its margin, what the feet take")
    window.click(*moments)
    window.wait("moments", lambda s: s["moments"])
    journey.note("moments", "Joint moments along neck, trunk, tail and limbs, by colour and width")
    note_light(journey, "moments")
    window.click(*moments)  # pressed they are white on blue, which the reader does not find
    window.click(*rose)
    window.wait("neither", lambda s: not s["moments"] and not s["rose"])
    window.fold("Saved Poses")


def compare(journey: Journey) -> None:
    """All poses of the list checked and laid side by side, in both themes."""
    window = journey.window
    for name in window.state()["poses"]:
        _, y = place_row(window, name)
        window.click(window.state()["regions"]["UI"][0] + CHECK_PX, y)
        window.wait(f"{name} checked", lambda s, name=name: name in s["compared"])
    dialog = push_for_dialog(window, "Side by Side")
    journey.note("side-by-side", "The poses side by side, best and worst marked in each line", aside=False)
    note_light(journey, "side-by-side", aside=False)
    left, top, width, _ = dialog.box
    window.move(left + width / 2, top + 12)
    window.settle()
    window.press("Escape")
