"""Posing, saving, restoring, undoing."""

from __future__ import annotations

import math
import re
from contextlib import suppress
from typing import Any

from journey import Journey
from reading import DriveError, Word, match_label
from window import Window

SHOWN = {"Mass": "mass", "Margin": "margin", "Tip angle": "tip_angle", "Outside range": "outside"}
"""Labels in the panel, and the live figures that they show."""

SCREEN = (0, 0, 1600, 1000)

FIELD_PX, OK_PX = (200, 31), 223
"""From the middle of the note dialog's Cancel right and up to its field, and right to its OK."""

UP_PX = 69
"""From the right edge of the sidebar to the button that moves a pose up, in the row of Duplicate."""

FIRST_ROW_PX, ROW_PX, NAME_PX = 28, 21, 85
"""From the list's head to its first row, from row to row; from a row's state left to its name."""


def pose(journey: Journey) -> None:
    window, bones, degrees = journey.window, journey.plan["bones"], journey.plan["degrees"]
    before = window.state()
    window.click(*before["bones"][bones[0]])
    window.wait("the rig selected", lambda s: s["active"] == s["rig"])
    window.press("ctrl+Tab")
    window.wait("pose mode", lambda s: s["mode"] == "POSE")
    wanted = math.radians(degrees)
    for bone in bones:  # one by one: Blender turns the upper one alone where one hangs on the other
        window.click(*window.state()["bones"][bone])
        window.wait(f"{bone} selected", lambda s, bone=bone: s["selected"] == [bone])
        window.press("r", "x", "x", *str(degrees), "Return")
        window.wait(
            f"{bone} turned by {degrees}°",
            lambda s, bone=bone: abs(s["turns"].get(bone, [0])[0] - wanted) < 1e-3,
        )
    state = window.wait("the live row to follow", lambda s: s["live"]["centre"] != before["live"]["centre"])
    print(f"         live: {before['live']} -> {state['live']}", flush=True)
    journey.note("pose", f"Bones turned by R X X {degrees} Enter in pose mode; the live figures have followed")


def stand(journey: Journey) -> None:
    window = journey.window
    before = window.state()["root"]
    window.push("Stand on the Ground")
    window.wait("the whole to move", lambda s: far(s["root"], before) > 1e-5)
    journey.note("stand", "The whole moved so that its feet stand on the ground")


def save(journey: Journey) -> None:
    """Under a name, in the list; there another name and another place for it."""
    window, draft, name = journey.window, "draft", journey.plan["pose"]
    x, y = window.find("Save Pose").middle
    left = window.state()["regions"]["UI"][0]
    window.type_at(left + 0.25 * (x - left), y, draft)
    window.wait("the name", lambda s: s["pose_name"] == draft)
    window.push("Save Pose")
    before = window.wait("the pose saved", lambda s: draft in s["poses"])["poses"]
    window.type_at(*place_row(window, draft), name)
    window.wait("the new name", lambda s: s["poses"] == [*before[:-1], name])
    left, _, width, _ = window.state()["regions"]["UI"]
    window.click(left + width - UP_PX, window.find("Duplicate").middle[1])
    window.wait("the pose a place higher", lambda s: s["poses"] == [*before[:-2], name, before[-2]])
    journey.note("saved", "The pose saved, renamed in the list by a double click, and moved up; its figures below")


def restore(journey: Journey) -> None:
    window = journey.window
    kept = window.state()
    window.push("Back to Neutral")
    window.wait("no turns", lambda s: not s["turns"])
    press_restore(window, journey.plan["pose"])
    state = window.wait("the turns again", lambda s: set(s["turns"]) == set(kept["turns"]))
    worst = max(far([state["turns"][bone]], [turn]) for bone, turn in kept["turns"].items())
    if worst > 1e-5 or far(state["root"], kept["root"]) > 1e-5:
        raise DriveError(f"restored, but {worst} rad off")
    journey.note("restored", "Back to neutral, and the saved pose brought back by Restore")


def ask(journey: Journey) -> None:
    """A copy of the pose gets a note in the dialog, and is deleted: Blender asks before."""
    window, text = journey.window, "head low, for the visitors"
    before = window.state()["poses"]
    window.push("Duplicate")
    copied = window.wait("a copy", lambda s: len(s["poses"]) == len(before) + 1)
    copy = copied["poses"][copied["pose_index"]]
    window.push("Note")
    cancel = window.find_on_screen("Cancel", SCREEN)
    window.type_at(cancel.middle[0] + FIELD_PX[0], cancel.middle[1] - FIELD_PX[1], text)
    journey.note("note", "A note on the copy of the pose, in the dialog that Note opens", aside=False)
    window.click(cancel.middle[0] + OK_PX, cancel.middle[1])
    window.find("head low")
    window.push("Delete")
    window.find_on_screen(f"Take {copy} out", SCREEN)
    journey.note("delete", "The note stands with the pose; Delete asks before it takes the pose out", aside=False)
    window.press("Return")
    window.wait("the copy gone", lambda s: s["poses"] == before)


def undo(journey: Journey) -> None:
    """Several operators, all taken back by Ctrl Z and done again by Ctrl Shift Z: figures and poses as they were."""
    window = journey.window
    acts = (
        lambda: window.push("Back to Neutral"),
        lambda: window.push("Save Pose"),  # without a name: it gets a number
        lambda: press_restore(window, journey.plan["pose"]),
        lambda: window.push("Stand on the Ground"),
        lambda: window.push("Back to Neutral"),
    )
    seen = [read_figures(window)]
    for act in acts:
        act()
        seen.append(read_figures(window))
    back, forth = list(reversed(seen))[1:], seen[1:]
    for keys, way in (("ctrl+z", back), ("ctrl+shift+z", forth), ("ctrl+z", back)):
        window.point_at_view()
        for wanted in way:
            press_until(window, keys, wanted)
        check_panel(window)
    journey.note("undone", f"{len(acts)} operators undone, done again, and undone: the figures as they were before")


def press_until(window: Window, keys: str, wanted: tuple[Any, ...]) -> None:
    """Press until the figures are those: choosing a row of the list is a step of its own for Blender."""
    for _ in range(3):
        window.press(keys)
        with suppress(DriveError):
            window.wait("the figures", lambda s: figures_of(s) == wanted, 6)
            return
    raise DriveError(f"{keys} does not bring back {wanted}, but {figures_of(window.state())}")


def press_restore(window: Window, name: str) -> None:
    window.click(*place_row(window, name))
    window.wait(f"{name} to be chosen", lambda s: s["poses"][s["pose_index"]] == name)
    window.push("Restore")


def find_head(window: Window) -> Word:
    """The head of the list, with the whole list and its buttons in sight."""
    for notches in (0, -60, *[4] * 16):
        if notches:
            window.scroll(notches)
        words = window.read_sidebar()
        head, below = match_label("State", words, alone=1), match_label("Duplicate", words)
        if head and below and below.middle[1] > head.middle[1]:
            return head
    raise DriveError("the list of poses is not in sight")


def place_row(window: Window, name: str) -> tuple[float, float]:
    """Where a pose's name stands in the list, which is short enough not to scroll."""
    head = find_head(window)
    return head.left - NAME_PX, head.middle[1] + FIRST_ROW_PX + ROW_PX * window.state()["poses"].index(name)


def read_figures(window: Window) -> tuple[Any, ...]:
    """What undo has to bring back, once the live figures are those of the scene."""
    return figures_of(window.wait("live figures", lambda s: s.get("live")))


def figures_of(state: dict[str, Any]) -> tuple[Any, ...]:
    return state["poses"], state.get("live"), {bone: [round(a, 5) for a in t] for bone, t in state["turns"].items()}


def check_panel(window: Window) -> None:
    """The panel shows the live figures: the digits read off the screen are theirs."""
    live = window.wait("live figures", lambda s: s.get("live"))["live"]
    for label, name in SHOWN.items():
        shown = window.read_right_of(label).replace("O", "0")  # one shape to the reader
        if re.findall(r"\d", shown) != re.findall(r"\d", live[name]):
            raise DriveError(f"the panel shows {label} {shown}, the figures say {live[name]}")


def far(a: list[list[float]], b: list[list[float]]) -> float:
    """Greatest difference of two tables of numbers."""
    return max(abs(p - q) for r, s in zip(a, b, strict=True) for p, q in zip(r, s, strict=True))
