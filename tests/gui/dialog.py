"""A dialog that a button opens: found where the screen has changed, filled by mouse and keys, answered by Enter."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from reading import LEVEL, Box, DriveError, Word, match_label, read_words, run
from screen import grab_screen
from window import Window

FIELD = 0.72
"""Of the dialog's width: where a field can be clicked, right of its label."""

TITLE_PX = 32
"""Height of its title, which may begin as a field's label does."""

HOLE_PX = 12
"""So many pixels of a dialog may by chance look as what was there before."""

STATUS_PX = 974
"""Where the status bar begins."""


@dataclass(frozen=True)
class Dialog:
    """A dialog in the window: left, top, width, height [px]."""

    window: Window
    box: Box

    def read(self) -> list[Word]:
        return read_words(grab_screen(), self.box, LEVEL)

    def find(self, label: str, alone: int = 0) -> Word:
        words = self.read()
        below = [word for word in words if word.top > self.box[1] + TITLE_PX] if alone else words
        if found := match_label(label, below, alone):
            return found
        raise DriveError(f"the dialog has no {label!r}, only: {' '.join(word.text for word in words)}")

    def place_field(self, label: str) -> tuple[float, float]:
        left, _, width, _ = self.box
        return left + FIELD * width, self.find(label, alone=1).middle[1]

    def fill(self, label: str, text: str) -> None:
        """Type into the field of that label."""
        self.window.type_at(*self.place_field(label), text)

    def choose(self, label: str, item: str) -> None:
        """Pick an item of the menu of that label."""
        x, y = self.place_field(label)
        before = grab_screen()
        self.window.click(x, y)
        self.window.click(*Dialog(self.window, find_change(before)).find(item).middle)

    def search(self, label: str, text: str) -> None:
        """Pick by its name from the list that the field of that label opens."""
        self.window.click(*self.place_field(label))
        type_and_enter(self.window, text)

    def push(self, label: str) -> None:
        self.window.click(*self.find(label).middle)

    def answer(self) -> None:
        """Enter, with the mouse over the dialog: its OK."""
        left, top, width, _ = self.box
        self.window.move(left + width / 2, top + 12)
        self.window.settle()
        self.window.press("Return")


def open_dialog(window: Window, act: Callable[[], None]) -> Dialog:
    """The dialog that an act opens."""
    before = grab_screen()
    act()
    return Dialog(window, find_change(before))


def push_for_dialog(window: Window, button: str) -> Dialog:
    """The dialog that a button of the sidebar opens."""
    place = window.find(button).middle  # scrolls: what changes after it is the dialog
    window.move(*place)
    window.settle()
    return open_dialog(window, lambda: window.click(*place))


def type_and_enter(window: Window, text: str) -> None:
    """Into the search that is open."""
    run("xdotool", "type", "--delay", "30", text)
    window.settle()
    window.press("Return")


def find_change(before: np.ndarray) -> Box:
    """The rectangle in which the screen is another than before, whatever stray pixels changed beside it."""
    changed = (grab_screen() != before).any(axis=2)
    changed[STATUS_PX:] = False  # a message there goes by itself
    by_row = changed.sum(axis=1)
    if by_row.max() < 40:
        raise DriveError("nothing has opened")
    tall = by_row > by_row.max() / 2
    columns = find_longest(changed[tall].mean(axis=0) > 0.5)
    rows = find_longest(changed[:, columns].mean(axis=1) > 0.5)
    left, right, top, bottom = columns[0], columns[-1], rows[0], rows[-1]
    return int(left), int(top), int(right - left + 1), int(bottom - top + 1)


def find_longest(marked: np.ndarray) -> np.ndarray:
    """Where the longest stretch of marks stands, holes of a few pixels overlooked: what else has changed lies apart."""
    places = np.flatnonzero(marked)
    return max(np.split(places, np.flatnonzero(np.diff(places) > HOLE_PX) + 1), key=len)
