"""A Blender window on a virtual screen, seen by its pictures and used by mouse and keys.

Needs xdotool, ImageMagick and tesseract: labels of the sidebar are read off the picture, so a button is found where it
stands, and only if it can be read.
"""

from __future__ import annotations

import difflib
import json
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ENLARGE = 3
"""Times that a picture is enlarged before its text is read."""

BORDER = 20
"""Pixels added around it, so that text at the edge is read as well."""

TABS_PX = 38
"""Width of the sidebar's tabs and margin, right of its panels."""


class DriveError(Exception):
    """The window did not do what was wanted."""


@dataclass(frozen=True)
class Word:
    """A word on the screen: its text and its box in pixels from the top left."""

    text: str
    left: float
    top: float
    width: float
    height: float

    @property
    def middle(self) -> tuple[float, float]:
        return self.left + self.width / 2, self.top + self.height / 2


@dataclass(frozen=True)
class Window:
    """The window: where its state is written, where pictures go."""

    state_file: Path
    pictures: Path

    def state(self) -> dict[str, Any]:
        try:
            return json.loads(self.state_file.read_text("utf-8"))
        except (FileNotFoundError, json.JSONDecodeError):
            return {"ready": False}

    def wait(self, what: str, wanted: Callable[[dict[str, Any]], Any], seconds: float = 20) -> dict[str, Any]:
        """The first state that is as wanted; DriveError where none comes in time."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            state = self.state()
            if state["ready"] and wanted(state):
                return state
            time.sleep(0.3)
        raise DriveError(f"waited {seconds:.0f} s in vain: {what}")

    def keep_picture(self, name: str) -> Path:
        path = self.pictures / f"{name}.png"
        run("import", "-window", "root", str(path))
        return path

    def click(self, x: float, y: float, times: int = 1) -> None:
        run("xdotool", "mousemove", str(round(x)), str(round(y)))
        time.sleep(0.3)
        run("xdotool", "click", "--repeat", str(times), "--delay", "60", "1")
        time.sleep(0.4)

    def press(self, *keys: str) -> None:
        for key in keys:
            run("xdotool", "key", key)
            time.sleep(0.25)

    def scroll(self, notches: int) -> None:
        """Turn the wheel over the sidebar; below zero: up."""
        left, top, width, height = self.state()["regions"]["UI"]
        run("xdotool", "mousemove", str(left + (width - TABS_PX) // 2), str(top + height - 15))
        time.sleep(0.2)
        run("xdotool", "click", "--repeat", str(abs(notches)), "--delay", "40", "5" if notches > 0 else "4")
        time.sleep(0.7)

    def point_at_view(self) -> None:
        """Put the mouse over the 3D view, off to its left."""
        left, top, width, height = self.state()["regions"]["WINDOW"]
        run("xdotool", "mousemove", str(left + width // 4), str(top + height * 3 // 4))
        time.sleep(0.3)

    def read_words(self, box: tuple[int, int, int, int] | None = None) -> list[Word]:
        """The words in a part of the screen, the sidebar's panels if none is given."""
        if box is None:
            left, top, width, height = self.state()["regions"]["UI"]
            box = (left, top, width - TABS_PX + 10, height)
        left, top, width, height = box
        return self.read_text(left, top, width, height)

    def read_text(self, left: int, top: int, width: int, height: int, turn: int = 0) -> list[Word]:
        """The words in a box of the screen, which is turned first [degrees, clockwise]: places are those turned."""
        picture = self.state_file.with_name("reading.png")
        crop = ["-crop", f"{width}x{height}+{left}+{top}", "+repage", "-rotate", str(turn), "-colorspace", "Gray"]
        enlarge = ["-negate", "-resize", f"{100 * ENLARGE}%", "-bordercolor", "gray70", "-border", str(BORDER)]
        run("import", "-window", "root", str(picture))
        run("convert", str(picture), *crop, *enlarge, str(picture))
        layout = "6" if turn else "11"  # tesseract's: one block of text, or text strewn over the picture
        words = []
        for row in run("tesseract", str(picture), "-", "--psm", layout, "tsv").splitlines()[1:]:
            *_, x, y, w, h, _confidence, text = row.split("\t")
            if text.strip():
                x, y = float(x) - BORDER, float(y) - BORDER
                words.append(Word(text.strip(), *(v / ENLARGE for v in (x, y, float(w), float(h)))))
        if turn:
            return words
        return [Word(word.text, word.left + left, word.top + top, word.width, word.height) for word in words]

    def open_tab(self, name: str) -> None:
        """Click a tab of the sidebar; their names run from top to bottom."""
        for strip in (22, 21, 20, 22, 21, 20):  # the sidebar slides in; what is beside the tabs can spoil the reading
            left, top, width, height = self.state()["regions"]["UI"]
            words = self.read_text(left + width - strip - 1, top, strip, height, -90)
            if found := next((word for word in words if word.text == name), None):
                break
            time.sleep(0.5)
        else:
            raise DriveError(f"the sidebar has no tab {name!r}, only: {' '.join(word.text for word in words)}")
        self.click(left + width - 10, top + found.middle[0])
        self.wait("the tab", lambda s: s["tab"] == name)

    def find(self, label: str, alone: bool = False) -> Word:
        """Where a label stands in the sidebar, which is scrolled from the top until it is read.

        alone : nothing may stand close on its left: the label of a field, not the end of a button's or panel's name
        """
        if found := match_label(label, self.read_words(), alone):
            return found
        self.scroll(-60)
        for _ in range(12):
            if found := match_label(label, self.read_words(), alone):
                return found
            self.scroll(6)
        raise DriveError(f"{label!r} is nowhere in the sidebar")

    def push(self, label: str) -> None:
        """Click a button of the sidebar."""
        self.click(*self.find(label).middle)

    def row_end(self, label: str, from_right: int) -> tuple[float, float]:
        """A square icon button in a label's row of a box, counted from its right end, 0 being the last."""
        left, _, width, _ = self.state()["regions"]["UI"]
        return left + width - TABS_PX - 16 - 20 * from_right, self.find(label).middle[1]

    def type_at(self, x: float, y: float, text: str) -> None:
        """Type into a text field."""
        self.click(x, y, times=2)
        self.press("ctrl+a")
        run("xdotool", "type", "--delay", "15", text)
        time.sleep(0.3)
        self.press("Return")

    def fill(self, label: str, text: str) -> None:
        """Type into the field right of a label."""
        left, _, width, _ = self.state()["regions"]["UI"]
        self.type_at(left + 0.52 * width, self.find(label, alone=True).middle[1], text)

    def choose(self, label: str, item: str) -> None:
        """Pick an item of the menu right of a label."""
        left, _, width, _ = self.state()["regions"]["UI"]
        y = self.find(label, alone=True).middle[1]
        for _ in range(4):  # a click can be lost while Blender is still drawing
            self.click(left + 0.6 * width, y)
            time.sleep(0.7)
            words = self.read_words((left - 60, max(0, round(y) - 200), width + 60, 440))
            if found := match_label(item, words):
                self.click(*found.middle)
                return
        raise DriveError(f"the menu of {label!r} shows no {item!r}")


def match_label(label: str, words: list[Word], alone: bool = False) -> Word | None:
    """The place of a label's words beside each other, with nothing close on their left where it is to stand alone."""
    wanted = label.split()
    best, best_score = None, 0.0
    for first in words:
        chain = [first]
        for _ in wanted[1:]:
            if (after := next_word(chain[-1], words)) is None:
                break
            chain.append(after)
        if len(chain) != len(wanted) or (alone and has_neighbour(first, words)):
            continue
        scores = [difflib.SequenceMatcher(None, a, b.text).ratio() for a, b in zip(wanted, chain, strict=True)]
        if min(scores) > 0.7 and sum(scores) / len(scores) > best_score:
            best, best_score = chain, sum(scores) / len(scores)
    if best is None:
        return None
    left, top = best[0].left, min(word.top for word in best)
    right, bottom = best[-1].left + best[-1].width, max(word.top + word.height for word in best)
    return Word(label, left, top, right - left, bottom - top)


def same_row(a: Word, b: Word) -> bool:
    return abs(a.middle[1] - b.middle[1]) < 6


def next_word(word: Word, words: list[Word]) -> Word | None:
    end = word.left + word.width
    after = [other for other in words if same_row(word, other) and -2 < other.left - end < 14]
    return min(after, key=lambda other: other.left, default=None)


def has_neighbour(word: Word, words: list[Word]) -> bool:
    return any(same_row(word, o) and 0 < word.left - o.left - o.width < 14 for o in words if o is not word)


def run(*command: str) -> str:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise DriveError(f"{' '.join(command)}: {done.stderr.strip()}")
    return done.stdout
