"""A page as a reader's program sees it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html.parser import HTMLParser

VOID = {
    "area",
    "base",
    "br",
    "col",
    "embed",
    "hr",
    "img",
    "input",
    "link",
    "meta",
    "source",
    "track",
    "wbr",
}  # HTML standard


class Page(HTMLParser):
    """Tags in balance, ids, references, and the text."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.ids: list[str] = []
        self.references: list[str] = []
        self.tags: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        self.handle_startendtag(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            assert not name.startswith("on"), f"{tag} has a script: {name}"
            if name == "id":
                self.ids.append(value or "")
            if name in {"href", "xlink:href", "src", "srcset", "data", "action", "poster"}:
                self.references.append(value or "")
            self.references += re.findall(r"url\(([^)]*)\)", value or "")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())
