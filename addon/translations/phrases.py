"""Words that Blender does not look up by itself: what is reported, what is composed, what is wrapped over lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

import bpy

from .catalogues import CORE
from .sentences import Sentence, read_sentences, translate

ENGLISH = "en_US"

_sentences: list[Sentence] = []
"""Those of the core, of every catalogue."""

_languages: set[str] = set()
"""That there are catalogues for."""


def say(template: str, **values: object) -> str:
    """A template in the interface's language with its values put in: `say("{joint} is fixed", joint=name)`.

    The template is one whole literal: the catalogues hold it as it stands, and a language may order its values anew.
    """
    return look_up(template).format(**values)


def look_up(text: str) -> str:
    """A text in the interface's language; as it is where the catalogue does not know it, a figure or a name for one."""
    return find_translation(text) if text else ""


def look_up_label(label: str) -> str:
    """An operator's label, which Blender keeps in a context of its own."""
    return find_translation(label, "Operator")


def tell(text: str) -> str:
    """What the core says, in the interface's language: its words, and its sentences with their values."""
    language = name_language()
    return _tell(text, language) if text and language in _languages else text


@lru_cache(maxsize=4096)
def _tell(text: str, _language: str) -> str:
    return translate(text, _find_known, _sentences)


def name_language() -> str:
    """Blender's code of the interface's language; English where its words are not to be translated."""
    translated = bpy.context.preferences.view.use_translate_interface
    return str(bpy.app.translations.locale) if translated else ENGLISH


def _find_known(text: str) -> str | None:
    """A word or sentence of the core, else of the add-on; None where neither is known."""
    for context in (CORE, "*"):
        known = find_translation(text, context)
        if known != text:
            return known
    return None


def tell_error(error: Exception) -> str:
    """An error in the interface's language: where it is, what is wrong, what to do."""
    where, what, remedy = (tell(getattr(error, part, "")) for part in ("where", "what", "remedy"))
    if not what:
        return str(error)
    return say("{where}: {what}. {remedy}.", where=where, what=what, remedy=capitalise(remedy))


def list_few(names: Sequence[str], most: int = 3) -> str:
    """Names, and how many more there are."""
    few = ", ".join(names[:most])
    return few if len(names) <= most else say("{names} and {count} more", names=few, count=len(names) - most)


def capitalise(text: str) -> str:
    """With a capital at the beginning."""
    return text[:1].upper() + text[1:]


def find_translation(text: str, context: str = "*") -> str:
    """From Blender, which holds the catalogues; the text itself where the interface is English."""
    return str(bpy.app.translations.pgettext_iface(text, context))


def learn_sentences(languages: Iterable[str], templates: Iterable[str]) -> None:
    """Know the sentences of the core from now on, and which languages have them."""
    _languages.clear()
    _languages.update(languages)
    _sentences[:] = read_sentences(templates)
    _tell.cache_clear()
