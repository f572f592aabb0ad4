"""The tutorial's page against its pictures and against what the add-on calls things.

That the pictures are those of the window's journey, in its order, that journey holds itself (tests/gui).
"""

from __future__ import annotations

import re
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
PAGE = TOP / "docs" / "tutorial.md"
PICTURES = TOP / "docs" / "pictures" / "tutorial"
MOST_BYTES = 170_000

BLENDERS_OWN = {
    "Edit → Preferences → Get Extensions",
    "Install from Disk…",
    "Install from Disk",
    "Counterpoise",
    "italics",
}
"""In italics, but not of the add-on."""


def test_each_step_has_its_picture() -> None:
    steps = re.findall(r"^## (\d+) .+?(?=^## |\Z)", PAGE.read_text("utf-8"), re.M | re.S)
    pictures = re.findall(r"\]\(pictures/tutorial/(\d\d)-[a-z-]+\.png\)", PAGE.read_text("utf-8"))
    assert [int(number) for number in steps] == [int(number) for number in pictures] == list(range(1, len(steps) + 1))
    assert len(steps) >= 20


def test_pictures_are_there_and_small() -> None:
    shown = set(re.findall(r"\]\(pictures/tutorial/(\S+)\)", PAGE.read_text("utf-8")))
    assert {path.name for path in PICTURES.iterdir()} == shown
    assert {path.name: path.stat().st_size for path in PICTURES.iterdir() if path.stat().st_size > MOST_BYTES} == {}


def test_what_is_clicked_is_called_so() -> None:
    """Every button, field and panel that the page names stands so in the add-on."""
    text = PAGE.read_text("utf-8").split("## 1 ", 1)[1]
    named = {" ".join(own.split()) for own in re.findall(r"(?<![*\w])\*([^*]+)\*(?!\*)", text)} - BLENDERS_OWN
    sources = " ".join(path.read_text("utf-8") for path in (TOP / "addon").rglob("*.py"))
    written = {" ".join(own.split()) for own in re.findall(r'"([^"\n]+)"', sources)}
    assert len(named) > 20
    assert named - written == set()
