"""Words on the screen, and labels among them."""

from __future__ import annotations

import difflib
import math
import subprocess
import time
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

ENLARGE = 3
"""Times that a picture is enlarged before its text is read."""

BORDER = 20
"""Pixels added around it, so that text at the edge is read as well."""

GREY = ("-colorspace", "Gray", "-negate")

LEVEL = "10%,75%"
"""Of the negative: ground and the grey of buttons come near each other, so that labels on all of them are read."""

NEARLY = 0.85
"""Likeness of a heading whose arrow is read as its first letter."""

HEADING = 3
"""Of a panel: its arrow may be read as a letter or two."""

SPENT: Counter[str] = Counter()
"""Seconds by what they went into: programs that were run, and waiting."""

Box = tuple[int, int, int, int]
"""Left, top, width, height: pixels of the screen."""


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


def read_words(screen: np.ndarray, box: Box, level: str = "") -> list[Word]:
    """The words in a part of the screen, text strewn over it. level : as in `read_text`"""
    left, top, _, _ = clip(box)
    return [replace(w, left=w.left + left, top=w.top + top) for w in read_text(screen, box, 0, "11", level)]


def read_turned(screen: np.ndarray, box: Box, turn: int) -> list[Word]:
    """The words in a part that is turned first [degrees, clockwise]; their places are those in the turned part."""
    return list(read_text(screen, box, turn, "6"))


def read_line(screen: np.ndarray, box: Box, white: int = 80) -> str:
    """The one line of text in a part, without spaces: black on white, which short figures need.

    white : from this brightness of the negative on [%] all is ground; on the blue of a selected row it is less
    """
    sharpen = ("-resize", "400%", "-level", f"20%,{white}%")  # the grey around the strokes would spoil them
    border = ("-bordercolor", "white", "-border", "30")
    return "".join(recognise(*cut(screen, box), (*GREY, *sharpen, *border), ("--psm", "7")).split())


def read_text(screen: np.ndarray, box: Box, turn: int, layout: str, level: str = "") -> tuple[Word, ...]:
    """What tesseract reads there.

    layout : its page segmentation mode
    level : black and white of the negative, where the picture's own will not do: "10%,75%"
    """
    change = ["-rotate", str(turn), *GREY, "-resize", f"{100 * ENLARGE}%", *(["-level", level] if level else [])]
    border = ["-bordercolor", "gray70", "-border", str(BORDER)]
    words = []
    table = recognise(*cut(screen, box), (*change, *border), ("--psm", layout, "tsv"))
    for row in table.splitlines()[1:]:
        *_, x, y, w, h, _confidence, text = row.split("\t")
        if text.strip():
            x, y = float(x) - BORDER, float(y) - BORDER
            words.append(Word(text.strip(), *(v / ENLARGE for v in (x, y, float(w), float(h)))))
    return tuple(words)


def clip(box: Box) -> Box:
    """What of a box is not left of the screen or above it."""
    left, top, width, height = box
    return max(left, 0), max(top, 0), width + min(left, 0), height + min(top, 0)


def cut(screen: np.ndarray, box: Box) -> tuple[bytes, int, int]:
    """Colours of a part, its width and height [px]."""
    left, top, width, height = clip(box)
    part = screen[top : top + height, left : left + width]
    return part.tobytes(), part.shape[1], part.shape[0]


@lru_cache(maxsize=200)
def recognise(rgb: bytes, width: int, height: int, change: tuple[str, ...], how: tuple[str, ...]) -> str:
    """What tesseract says of pixels; the same pixels are not read twice."""
    grey = run_raw("convert", "-size", f"{width}x{height}", "-depth", "8", "rgb:-", *change, "pgm:-", given=rgb)
    return run_raw("tesseract", "-", "-", *how, given=grey).decode("utf-8")


def match_label(label: str, words: list[Word], alone: int = 0) -> Word | None:
    """The place of a label's words beside each other.

    alone : text of so many letters may not stand close on their left; 0: any may, 1: none, HEADING: an arrow may, and
    of several the leftmost is meant
    """
    wanted = label.split()
    best, best_score = None, (0.0, -math.inf)
    for first in words:
        chain = [first]
        for _ in wanted[1:]:
            if (after := next_word(chain[-1], words)) is None:
                break
            chain.append(after)
        if len(chain) != len(wanted) or (alone and has_neighbour(first, words, alone)):
            continue
        scores = [rate_likeness(a, b.text) for a, b in zip(wanted, chain, strict=True)]
        likeness = sum(scores) / len(scores)
        score = (float(likeness > NEARLY), -first.left) if alone == HEADING else (likeness, -math.inf)
        if min(scores) > 0.7 and score > best_score:
            best, best_score = chain, score
    if best is None:
        return None
    left, top = best[0].left, min(word.top for word in best)
    right, bottom = best[-1].left + best[-1].width, max(word.top + word.height for word in best)
    return Word(label, left, top, right - left, bottom - top)


def rate_likeness(wanted: str, read: str) -> float:
    """From 0 to 1. The number of a panel, alone before its name, is easily read as another sign.

    A word that ends a letter sooner or later is another one: *Save Pose* is not *Saved Poses*.
    """
    if wanted.isdigit() and len(wanted) == len(read) == 1:
        return 1.0 if wanted == read else 0.75
    shorter, longer = sorted((wanted, read), key=len)
    if longer.startswith(shorter) and longer[len(shorter) :].isalpha():
        return 0.6
    return difflib.SequenceMatcher(None, wanted, read).ratio()


def same_row(a: Word, b: Word) -> bool:
    return abs(a.middle[1] - b.middle[1]) < 6


def next_word(word: Word, words: list[Word]) -> Word | None:
    """The nearest on the right: the box of a word is read too wide at times, and then reaches over the next."""
    end = word.left + word.width
    after = [other for other in words if same_row(word, other) and word.left + 4 < other.left < end + 14]
    return min(after, key=lambda other: other.left, default=None)


def has_neighbour(word: Word, words: list[Word], letters: int) -> bool:
    """Text of so many letters, or more, close on its left."""
    near = (o for o in words if o is not word and same_row(word, o) and 0 < word.left - o.left - o.width < 14)
    return any(len(o.text) >= letters for o in near)


def run(*command: str) -> str:
    """What a program says; DriveError where it fails."""
    return run_raw(*command).decode("utf-8")


def run_raw(*command: str, given: bytes = b"") -> bytes:
    begun = time.monotonic()
    done = subprocess.run(command, input=given, capture_output=True, check=False)
    SPENT[command[0]] += time.monotonic() - begun
    if done.returncode:
        raise DriveError(f"{' '.join(command)}: {done.stderr.decode('utf-8', 'replace').strip()}")
    return done.stdout
