"""Installing the zip and taking the add-on away again, both through Blender's Preferences."""

from __future__ import annotations

import time
from pathlib import Path

from journey import Journey
from reading import DriveError, Word, match_label, read_words
from screen import grab_screen
from window import Window

SCREEN_PX = [1600, 1000]

READS_FOLDER_S = 60
"""So long a busy machine may take to show a folder."""


def install(journey: Journey) -> None:
    """Preferences, Get Extensions, Install from Disk; the file browser begins at home."""
    window = journey.window
    window.wait("Blender to start", lambda s: True, 120)
    window.settle()
    window.press("alt+F10")  # the window manager's: fill the screen
    window.wait("Blender's window to fill the screen", lambda s: s["size"] == SCREEN_PX)
    open_extensions(window)
    open_menu(window)
    pick(window, "Install from Disk...", "PREFERENCES")
    window.wait("the file browser", lambda s: "FILE_BROWSER" in s["dialogs"])
    left, top, width, height = dialog_box(window, "FILE_BROWSER")
    window.click(*window.find_on_screen("Downloads", (left, top, width // 4, height)).middle)
    window.click(*find_file(window, journey.plan["zip"]).middle)
    journey.note("install", "Preferences, Get Extensions, Install from Disk: the zip chosen", aside=False)
    window.click(left + width - 75, top + height - 22)
    window.wait("the add-on to be enabled", lambda s: s["enabled"], 120)
    pick_nothing(window)
    journey.note("installed", "The add-on in the list of what is installed", aside=False)
    close_preferences(window)


def uninstall(journey: Journey) -> None:
    """Preferences, Get Extensions, the menu of the add-on's row, Uninstall; nothing of it may be left."""
    window = journey.window
    before = window.state()
    open_extensions(window)
    row = window.find_on_screen("Counterpoise", dialog_box(window, "PREFERENCES"))
    left, _, width, _ = window.state()["dialogs"]["PREFERENCES"]
    window.click(left + width - 25, row.middle[1])
    pick(window, "Uninstall", "PREFERENCES")
    window.wait("the add-on to be gone", lambda s: not s["enabled"], 120)
    close_preferences(window)
    state = window.wait("Blender to have forgotten it", lambda s: not s["handlers"] and not s["settings"])
    if left_over := find_left_over():
        raise DriveError(f"uninstalled, but these are left: {', '.join(map(str, left_over))}")
    if match_label("Counterpoise", window.read_tabs()):
        raise DriveError("uninstalled, but the sidebar still has its tab")
    if (state["objects"], state["texts"]) != (before["objects"], before["texts"]):
        raise DriveError("uninstalling has changed the scene or the document in it")
    journey.note("uninstalled", "Uninstalled: no tab any more, no file of the add-on; what was made stays")


def find_left_over() -> list[Path]:
    """What of the add-on and its libraries is still on disk, but for a __pycache__ that Blender leaves."""
    found = []
    for place in Path("/root/.config/blender").glob("*/extensions"):
        found += place.glob("*/counterpoise*")
        found += (path for path in place.glob(".local/lib/*/site-packages/*") if path.name != "__pycache__")
    return found


def open_extensions(window: Window) -> None:
    """The section Get Extensions of the Preferences."""
    window.click(*window.find_on_screen("Edit", (0, 0, 400, 30)).middle)
    window.click(*window.find_on_screen("Preferences...", (0, 0, 400, 400)).middle)
    window.wait("the Preferences", lambda s: "PREFERENCES" in s["dialogs"])
    window.settle()
    if window.state()["section"] != "EXTENSIONS":  # it opens where it was left
        pick(window, "Get Extensions", "PREFERENCES")


def find_file(window: Window, name: str) -> Word:
    """A file's row in the file browser, once it has read its folder; of a name read in pieces the first of them."""
    until = time.monotonic() + READS_FOLDER_S
    begins: list[Word] = []
    while not begins and time.monotonic() < until:
        words = read_words(grab_screen(), dialog_box(window, "FILE_BROWSER"))
        begins = [word for word in words if len(word.text) > 5 and name.startswith(word.text)]
    if not begins:
        raise DriveError(f"the file browser shows no {name}, only: {' '.join(word.text for word in words)}")
    return begins[0]


def open_menu(window: Window) -> None:
    """The arrow at the upper right corner."""
    left, top, width, _ = window.state()["dialogs"]["PREFERENCES"]
    window.click(left + width - 20, top + 18)


def pick(window: Window, label: str, dialog: str) -> None:
    """Click what is written in a dialog."""
    window.click(*window.find_on_screen(label, dialog_box(window, dialog)).middle)


def dialog_box(window: Window, dialog: str) -> tuple[int, int, int, int]:
    left, top, width, height = window.state()["dialogs"][dialog]
    return left, top, width, height


def pick_nothing(window: Window) -> None:
    """Take the mouse off everything in the Preferences."""
    left, top, width, height = window.state()["dialogs"]["PREFERENCES"]
    window.move(left + width * 0.6, top + height * 0.85)
    window.settle()


def close_preferences(window: Window) -> None:
    window.press("alt+F4")
    window.wait("the Preferences to close", lambda s: not s["dialogs"])
