"""Broken input: each is refused on the screen with what it is about, what is wrong, what to do; nothing is changed."""

from __future__ import annotations

from dialog import push_for_dialog
from journey import Journey
from reading import DriveError
from skeleton import name_scans

SCREEN = (0, 0, 1600, 1000)


def refuse_scans(journey: Journey) -> None:
    """A folder with a solid model renamed to .stl, then one with nothing in it."""
    window = journey.window
    for folder, told in ((journey.plan["broken"], "STEP file"), (journey.plan["empty"], "it holds no")):
        name_scans(window, folder)
        window.push("Survey the Scans")
        window.find_on_screen(told, SCREEN, 60)
        journey.note("refused-scans", f"{folder} is refused: the message says {told!r} and what to do", aside=False)
        window.point_at_view()
        if "Survey" in window.state()["texts"]:
            raise DriveError("refused, but a survey was written")


def refuse_wall(journey: Journey) -> None:
    """A wall thicker than every bone; hollow is what the dialog opens with, after `cast`."""
    window = journey.window
    before = window.state()["build"]
    dialog = push_for_dialog(window, "Set Casting")
    dialog.fill("Wall", "400 mm")
    dialog.answer()
    window.find_on_screen("thinner than two walls", SCREEN, 300)
    journey.note("refused-wall", "A wall of 400 mm leaves no void in any element: refused", aside=False)
    window.point_at_view()
    if window.state()["build"] != before:
        raise DriveError("refused, but the castings are others now")
