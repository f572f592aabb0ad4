"""Panels drawn into lists of words, and the add-on told Spanish where Blender itself is built without languages."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import ModuleType, SimpleNamespace
from typing import Any

import bpy
from scenes import PACKAGE

ENGLISH = re.compile(
    r"\b(the|of|and|is|are|not|known|with|it|its|joints?|holds|fails|inside|outside|none|beyond|nothing|by|hand|"
    r"fixed|found|facets?|limits?|solid|hollow|wall|weight|mesh(es)?|closed|more|down|about|level|gap|bone|stops?|"
    r"out|range|centre|ground|wind|what|why|when|evidence|elements?|missing|castings?|several|tipping|sliding|"
    r"wrong|undecided|placed|turned|moved|foot|feet|fore|hind)\b",
    re.IGNORECASE,
)
"""Words that no Spanish sentence has."""


class Layout:
    """Takes every call that a panel makes of a layout; keeps the words."""

    def __init__(self, words: list[str], spanish: dict[tuple[str, str], str]) -> None:
        self.__dict__.update(words=words, spanish=spanish)

    def label(self, text: str = "", text_ctxt: str = "*", **_: object) -> None:
        self.words.append(self.spanish.get((text_ctxt or "*", text), text))

    def operator(self, name: str, text: str | None = None, translate: bool = True, **_: object) -> SimpleNamespace:
        label = "" if text is None else text
        self.words.append(self.spanish.get(("Operator", label), label) if translate else "")
        return SimpleNamespace()

    def panel(self, _name: str, **_: object) -> tuple[Layout, Layout]:
        return self, self

    def progress(self, text: str = "", **_: object) -> None:
        self.words.append(text)

    def __getattr__(self, name: str) -> Any:
        if name in ("row", "column", "box", "split", "grid_flow"):
            return lambda **_: self
        return lambda *_, **__: None

    def __setattr__(self, name: str, value: object) -> None: ...


class Context:
    """Blender's context with a 3D view and its sidebar."""

    region = SimpleNamespace(width=400)
    space_data = SimpleNamespace(overlay=SimpleNamespace(show_overlays=True))

    def __getattr__(self, name: str) -> Any:
        if name == "preferences":
            own = bpy.context.preferences
            return SimpleNamespace(system=SimpleNamespace(ui_scale=1.0), addons=own.addons, view=own.view)
        return getattr(bpy.context, name)


@contextmanager
def in_spanish(part: Any) -> Iterator[dict[tuple[str, str], str]]:
    """The add-on's own look-ups from its catalogue, as Blender does them where it has languages."""
    phrases: ModuleType = part("translations.phrases")
    spanish = part("translations.catalogues").read_catalogues()[0]["es"]
    before = phrases.find_translation, phrases.name_language
    phrases.find_translation = lambda text, context="*": spanish.get((context, text), text)
    ask_all(lambda: "es")
    phrases._tell.cache_clear()
    try:
        yield spanish
    finally:
        phrases.find_translation = before[0]
        ask_all(before[1])
        phrases._tell.cache_clear()


def ask_all(name_language: Callable[[], str]) -> None:
    """Let every part of the add-on ask this for the language."""
    for name, module in sys.modules.items():
        if name.startswith(PACKAGE) and hasattr(module, "name_language"):
            module.name_language = name_language


def list_panels() -> list[type]:
    """Every panel of the add-on."""
    return [own for own in bpy.types.Panel.__subclasses__() if own.__module__.startswith(PACKAGE)]


def draw_panel(own: type, spanish: dict[tuple[str, str], str]) -> list[str]:
    """What a panel shows now, its heading included; nothing where it is not shown."""
    context, words = Context(), []
    if hasattr(own, "poll") and not own.poll(context):
        return []
    panel = SimpleNamespace(layout=Layout(words, spanish), bl_idname=own.bl_idname)
    if hasattr(own, "draw_header_preset"):
        own.draw_header_preset(panel, context)
    own.draw(panel, context)
    return [word for word in words if word]


def find_english(words: list[str], names: set[str]) -> list[str]:
    """Words that are still English; names of elements and files are left out of them."""
    cut = re.compile("|".join(sorted(map(re.escape, names), key=len, reverse=True))) if names else None
    found = []
    for text in words:
        if "/" in text and " " not in text:  # a path
            continue
        rest = cut.sub("", text) if cut else text
        if ENGLISH.search(rest):
            found.append(text)
    return found
