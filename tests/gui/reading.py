"""Words on a picture, and labels among them."""

from __future__ import annotations

import difflib
import subprocess
from dataclasses import dataclass, replace
from pathlib import Path

ENLARGE = 3
"""Times that a picture is enlarged before its text is read."""

BORDER = 20
"""Pixels added around it, so that text at the edge is read as well."""

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


def read_words(picture: Path, box: Box, level: str = "") -> list[Word]:
    """The words in a part of a picture of the screen, text strewn over it. level : as in `read_text`"""
    left, top, _, _ = box
    return [replace(w, left=w.left + left, top=w.top + top) for w in read_text(picture, box, 0, "11", level)]


def read_turned(picture: Path, box: Box, turn: int) -> list[Word]:
    """The words in a part that is turned first [degrees, clockwise]; their places are those in the turned part."""
    return read_text(picture, box, turn, "6")


def read_line(picture: Path, box: Box, white: int = 80) -> str:
    """The one line of text in a part, without spaces: black on white, which short figures need.

    white : from this brightness of the negative on [%] all is ground; on the blue of a selected row it is less
    """
    left, top, width, height = box
    part = picture.with_name("reading.png")
    crop = ["-crop", f"{width}x{height}+{left}+{top}", "+repage", "-colorspace", "Gray", "-negate"]
    run(
        "convert",
        str(picture),
        *crop,
        "-resize",
        "400%",
        "-level",
        f"20%,{white}%",  # the grey around the strokes would spoil them
        "-bordercolor",
        "white",
        "-border",
        "30",
        str(part),
    )
    return "".join(run("tesseract", str(part), "-", "--psm", "7").split())


def read_text(picture: Path, box: Box, turn: int, layout: str, level: str = "") -> list[Word]:
    """What tesseract reads there.

    layout : its page segmentation mode
    level : black and white of the negative, where the picture's own will not do: "10%,75%"
    """
    left, top, width, height = box
    crop = ["-crop", f"{width}x{height}+{left}+{top}", "+repage", "-rotate", str(turn), "-colorspace", "Gray"]
    enlarge = [
        "-negate",
        "-resize",
        f"{100 * ENLARGE}%",
        *(["-level", level] if level else []),
        "-bordercolor",
        "gray70",
        "-border",
        str(BORDER),
    ]
    part = picture.with_name("reading.png")
    run("convert", str(picture), *crop, *enlarge, str(part))
    words = []
    for row in run("tesseract", str(part), "-", "--psm", layout, "tsv").splitlines()[1:]:
        *_, x, y, w, h, _confidence, text = row.split("\t")
        if text.strip():
            x, y = float(x) - BORDER, float(y) - BORDER
            words.append(Word(text.strip(), *(v / ENLARGE for v in (x, y, float(w), float(h)))))
    return words


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
        scores = [rate_likeness(a, b.text) for a, b in zip(wanted, chain, strict=True)]
        if min(scores) > 0.7 and sum(scores) / len(scores) > best_score:
            best, best_score = chain, sum(scores) / len(scores)
    if best is None:
        return None
    left, top = best[0].left, min(word.top for word in best)
    right, bottom = best[-1].left + best[-1].width, max(word.top + word.height for word in best)
    return Word(label, left, top, right - left, bottom - top)


def rate_likeness(wanted: str, read: str) -> float:
    """From 0 to 1. The number of a panel, alone before its name, is easily read as another sign."""
    if wanted.isdigit() and len(wanted) == len(read) == 1:
        return 1.0 if wanted == read else 0.75
    return difflib.SequenceMatcher(None, wanted, read).ratio()


def same_row(a: Word, b: Word) -> bool:
    return abs(a.middle[1] - b.middle[1]) < 6


def next_word(word: Word, words: list[Word]) -> Word | None:
    """The nearest on the right: the box of a word is read too wide at times, and then reaches over the next."""
    end = word.left + word.width
    after = [other for other in words if same_row(word, other) and word.left + 4 < other.left < end + 14]
    return min(after, key=lambda other: other.left, default=None)


def has_neighbour(word: Word, words: list[Word]) -> bool:
    return any(same_row(word, o) and 0 < word.left - o.left - o.width < 14 for o in words if o is not word)


def run(*command: str) -> str:
    """What a program says; DriveError where it fails."""
    return run_raw(*command).decode("utf-8")


def run_raw(*command: str) -> bytes:
    done = subprocess.run(command, capture_output=True, check=False)
    if done.returncode:
        raise DriveError(f"{' '.join(command)}: {done.stderr.decode('utf-8', 'replace').strip()}")
    return done.stdout
