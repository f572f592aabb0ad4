"""A Blender window on a virtual screen, seen by its pictures and used by mouse and keys.

Needs xdotool, ImageMagick and tesseract: labels are read off the picture, so a button is found where it stands, and
only if it can be read. Nothing waits for a time: after every touch the window is to answer and its picture to rest.
"""

from __future__ import annotations

import itertools
import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from reading import HEADING, LEVEL, SPENT, Box, DriveError, Word, match_label, read_line, read_turned, read_words, run
from screen import grab_screen

TABS_PX = 38
"""Width of the sidebar's tabs and margin, right of its panels."""

VALUES = 0.38
"""Share of the panels' width at which the values of the figures begin."""

LAST = 0.77
"""Share of the panels' width at which the last column of a list begins."""

QUESTIONS = itertools.count(1)
"""Put to Blender one after the other: what it answers it has read after what was sent before."""

STILL_S = 0.15
"""Between two pictures that are to be the same."""

PATIENCE_S = 120
"""How long Blender may take to answer a touch, on a machine that has much else to do."""

PAN_PX = 32
"""By how much Ctrl 6 on the number pad moves the view."""

MARGIN_PX = 13
"""From the left edge of the sidebar to where nothing but its ground is."""

NOTCH_PX = 40
"""By how much a notch of the wheel moves the sidebar."""

OVERLAP_PX = 160
"""What is seen twice when the sidebar is scrolled by a screen: more than the tallest row."""


@dataclass(frozen=True)
class Window:
    """The window: where its state is written, where pictures go."""

    state_file: Path
    pictures: Path

    def state(self) -> dict[str, Any]:
        try:
            return json.loads(self.state_file.read_text("utf-8"))
        except (FileNotFoundError, json.JSONDecodeError):
            return {"ready": False, "answered": ""}

    def wait(self, what: str, wanted: Callable[[dict[str, Any]], Any], seconds: float = 60) -> dict[str, Any]:
        """The first state that is as wanted; DriveError where none comes in time."""
        begun = time.monotonic()
        while time.monotonic() < begun + seconds:
            state = self.state()
            if state["ready"] and wanted(state):
                SPENT["waiting for Blender"] += time.monotonic() - begun
                return state
            time.sleep(0.02)
        raise DriveError(f"waited {seconds:.0f} s in vain: {what}")

    def ask_for(self, theme: str) -> None:
        """Have the reporter change Blender's theme: light or dark."""
        self.state_file.with_name("theme").write_text(theme, "utf-8")
        self.wait(f"the {theme} theme", lambda s: s["theme"] == theme)
        self.settle()

    def settle(self) -> None:
        """Wait until Blender has answered what was sent to it and its picture stands still, or a long step runs."""
        question = str(next(QUESTIONS))
        beside = self.state_file.with_name("question.part")
        beside.write_text(question, "utf-8")
        beside.replace(self.state_file.with_name("question"))
        self.wait("Blender to answer", lambda s: s["answered"] == question, PATIENCE_S)
        begun = time.monotonic()
        before = np.zeros(0)
        while not self.state()["running"] and not np.array_equal(now := grab_screen(), before):
            if time.monotonic() > begun + PATIENCE_S:
                raise DriveError(f"the picture has not stood still for {PATIENCE_S} s")
            before = now
            time.sleep(STILL_S)
        SPENT["waiting for a still picture"] += time.monotonic() - begun

    def keep_picture(self, name: str) -> Path:
        path = self.pictures / f"{name}.png"
        run("import", "-window", "root", str(path))
        return path

    def move(self, x: float, y: float) -> None:
        run("xdotool", "mousemove", str(round(x)), str(round(y)))

    def click(self, x: float, y: float, times: int = 1) -> None:
        self.move(x, y)
        self.settle()  # Blender takes a click only where it has seen the mouse
        run("xdotool", "click", "--repeat", str(times), "--delay", "60", "1")
        self.settle()

    def press(self, *keys: str) -> None:
        for key in keys:
            run("xdotool", "key", key)
            self.settle()

    def drag(self, x: float, y: float, to_x: float) -> None:
        """Drag an edge sidewards; Blender takes it only where the mouse has come to it from beside."""
        for start in (x - 40, x):
            self.move(start, y)
            self.settle()
        run("xdotool", "mousedown", "1")
        self.settle()
        for part in (0.25, 0.5, 0.75, 1.0):
            self.move(x + part * (to_x - x), y)
            self.settle()
        run("xdotool", "mouseup", "1")
        self.settle()

    def drag_box(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a box over the view with the mouse."""
        self.move(*start)
        self.settle()
        run("xdotool", "mousedown", "1")
        self.settle()
        for part in (0.5, 1.0):
            self.move(*(a + part * (b - a) for a, b in zip(start, end, strict=True)))
            self.settle()
        run("xdotool", "mouseup", "1")
        self.settle()

    def frame_all(self) -> None:
        """All objects in the view, in the middle of what the sidebar leaves of it."""
        self.point_at_view()
        self.press("Home", "KP_Subtract")
        steps = self.state()["regions"]["UI"][2] // 2 // PAN_PX
        run("xdotool", "key", "--delay", "30", *["ctrl+KP_6"] * steps)
        self.settle()

    def put_cursor(self, x: float, y: float) -> None:
        """Blender's 3-D cursor, by Shift and the right button."""
        self.move(x, y)
        self.settle()
        run("xdotool", "keydown", "shift", "click", "3", "keyup", "shift")
        self.settle()

    def view_box(self) -> Box:
        """The 3D view beside the sidebar."""
        left, top, width, height = self.state()["regions"]["WINDOW"]
        return left, top, min(width, self.state()["regions"]["UI"][0] - left), height

    def scroll(self, notches: int) -> bool:
        """Turn the wheel over the sidebar; below zero: up. Whether it moved: at its end it does not."""
        left, top, width, height = self.state()["regions"]["UI"]
        self.move(left + MARGIN_PX, top + height - 15)  # over a list the wheel would turn the list
        self.settle()
        before = grab_screen()[top : top + height, left : left + width]
        run("xdotool", "click", "--repeat", str(abs(notches)), "--delay", "20", "5" if notches > 0 else "4")
        self.settle()
        return not np.array_equal(grab_screen()[top : top + height, left : left + width], before)

    def point_at_view(self) -> None:
        """Put the mouse over the 3D view, off to its left."""
        left, top, width, height = self.state()["regions"]["WINDOW"]
        self.move(left + width // 4, top + height * 3 // 4)
        self.settle()

    def read_sidebar(self, level: str = LEVEL) -> list[Word]:
        """The words in the sidebar's panels."""
        left, top, width, height = self.state()["regions"]["UI"]
        return read_words(grab_screen(), (left, top, width - TABS_PX + 10, height), level)

    def match_here(self, label: str, alone: int) -> Word | None:
        """A label in what of the sidebar is in sight; read with other blacks and whites where it is not found."""
        return match_label(label, self.read_sidebar(), alone) or match_label(label, self.read_sidebar(""), alone)

    def read_tabs(self, strip: int = 22) -> list[Word]:
        """The names on the sidebar's tabs, which run from top to bottom. strip : width that is read [px]"""
        left, top, width, height = self.state()["regions"]["UI"]
        return read_turned(grab_screen(), (left + width - strip - 1, top, strip, height), -90)

    def open_tab(self, name: str) -> None:
        """Click a tab of the sidebar."""
        for strip in (22, 21, 20):  # what is beside the tabs can spoil the reading
            words = self.read_tabs(strip)
            if found := next((word for word in words if word.text == name), None):
                break
        else:
            raise DriveError(f"the sidebar has no tab {name!r}, only: {' '.join(word.text for word in words)}")
        left, top, width, _ = self.state()["regions"]["UI"]
        self.click(left + width - 10, top + found.middle[0])
        self.wait("the tab", lambda s: s["tab"] == name)

    def find(self, label: str, alone: int = 0) -> Word:
        """Where a label stands in the sidebar, which is scrolled from the top until it is read.

        alone : as in `match_label`; 1 for the label of a field
        """
        self.wait("the pose to be checked", lambda s: s["running"] or not s["checking"], PATIENCE_S)
        if found := self.match_here(label, alone):
            return found
        screen = (self.state()["regions"]["UI"][3] - OVERLAP_PX) // NOTCH_PX
        while self.scroll(-4 * screen):
            pass
        while not (found := self.match_here(label, alone)):
            if not self.scroll(screen):
                raise DriveError(f"{label!r} is nowhere in the sidebar")
        return found

    def find_on_screen(self, label: str, box: Box, seconds: float = 15) -> Word:
        """Where a label stands in a part of the screen, as soon as it does."""
        until = time.monotonic() + seconds
        while True:
            words = read_words(grab_screen(), box)
            if found := match_label(label, words):
                return found
            if time.monotonic() > until:
                raise DriveError(f"{label!r} is not on the screen, only: {' '.join(word.text for word in words)}")

    def read_right_of(self, label: str) -> str:
        """The text right of a label in the sidebar, in the column of values."""
        found = self.find(label, alone=1)
        left, _, width, _ = self.state()["regions"]["UI"]
        begin = left + round(VALUES * (width - TABS_PX)) - 4
        return read_line(grab_screen(), (begin, round(found.middle[1]) - 10, left + width - TABS_PX - begin, 20))

    def read_end_of_row(self, y: float) -> str:
        """The text at the right end of a list's row at that height."""
        left, _, width, _ = self.state()["regions"]["UI"]
        begin = left + round(LAST * (width - TABS_PX))
        return read_line(grab_screen(), (begin, round(y) - 10, left + width - TABS_PX - begin - 16, 18), 50)

    def push(self, label: str) -> None:
        """Click a button of the sidebar."""
        self.click(*self.find(label).middle)

    def fold(self, panel: str) -> None:
        """Open or close a panel, by its heading: nothing but its arrow stands on its left."""
        for _ in range(3):  # as anybody would who sees that nothing has moved
            heading = self.find(panel, alone=HEADING)
            _, top, _, height = self.state()["regions"]["UI"]
            if heading.top > top + 0.8 * height and self.scroll(round(height / (3 * NOTCH_PX))):
                heading = self.find(panel, alone=HEADING)  # what it folds is in sight now, if anything is
            before = self._look_below(heading)
            self.click(*heading.middle)
            if not np.array_equal(self._look_below(heading), before):
                return
        raise DriveError(f"the panel {panel!r} neither opens nor closes")

    def _look_below(self, heading: Word) -> np.ndarray:
        """What the sidebar shows under a heading."""
        left, _, width, height = self.state()["regions"]["UI"]
        return grab_screen()[round(heading.top + 2 * heading.height) : height, left : left + width - TABS_PX].copy()

    def type_at(self, x: float, y: float, text: str) -> None:
        """Type into a text field."""
        self.click(x, y, times=2)
        run("xdotool", "key", "ctrl+a", "type", "--delay", "15", text)
        self.settle()
        self.press("Return")

    def fill(self, label: str, text: str) -> None:
        """Type into the field right of a label."""
        left, _, width, _ = self.state()["regions"]["UI"]
        self.type_at(left + 0.52 * width, self.find(label, alone=1).middle[1], text)

    def choose(self, label: str, item: str) -> None:
        """Pick an item of the menu right of a label."""
        left, _, width, _ = self.state()["regions"]["UI"]
        y = self.find(label, alone=1).middle[1]
        self.click(left + 0.6 * width, y)
        self.click(*self.find_on_screen(item, (left - 60, max(0, round(y) - 200), width + 60, 440)).middle)
