"""The core's sentences found again in what it says, so that a catalogue can hold them with their {values}.

The core speaks English and knows of no catalogue. That `a wall of 80 mm is too thick` comes of `a wall of {wall_mm} mm
is too thick` is told by what stands around the value. Values are looked up in turn: some of them are words.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from string import Formatter

BREAKS = (". ", "; ", ": ", ", or ", ", ", " – ", " and ", " or ")
"""Where a text of several parts is taken apart, the widest breaks first; some have translations themselves."""

VALUE = r"(?:(?!; |\. ).)*?"
"""No value goes beyond the end of a sentence."""

LookUp = Callable[[str], str | None]


@dataclass(frozen=True)
class Sentence:
    """A template, what it is recognised by, and how many letters and signs it has of its own."""

    template: str
    pattern: re.Pattern[str]
    letters: int
    signs: int


def read_sentences(templates: Iterable[str]) -> list[Sentence]:
    """Templates that put something in, those with the most letters of their own first."""
    found = [_read_sentence(template) for template in set(templates) if "{" in template]
    return sorted((own for own in found if own.letters), key=lambda own: (-own.letters, -own.signs, own.template))


def _read_sentence(template: str) -> Sentence:
    parts, letters, signs = [], 0, 0
    for literal, name, _, _ in Formatter().parse(template):
        letters += sum(letter.isalpha() for letter in literal)
        signs += len(literal)
        parts.append(re.escape(literal) + (f"(?P<{name}>{VALUE})" if name is not None else ""))
    return Sentence(template, re.compile("".join(parts), re.DOTALL), letters, signs)


def translate(text: str, look_up: LookUp, sentences: list[Sentence]) -> str:
    """A text of the core in another language, part by part as far as it is known there.

    look_up : a word or a whole template; None where the language does not have it
    """
    if not text:
        return ""
    known = _find_whole(text, look_up, sentences)
    if known is None and text[:1].isupper():  # the add-on begins some of them with a capital
        small = _find_whole(text[:1].lower() + text[1:], look_up, sentences)
        known = None if small is None else small[:1].upper() + small[1:]
    if known is not None:
        return known
    for sign in BREAKS:
        parts = text.split(sign)
        if len(parts) > 1:
            return (look_up(sign) or sign).join(translate(part, look_up, sentences) for part in parts)
    return f"{translate(text[:-1], look_up, sentences)}." if len(text) > 1 and text.endswith(".") else text


def _find_whole(text: str, look_up: LookUp, sentences: list[Sentence]) -> str | None:
    """What is known as it stands, or as one sentence with values put in."""
    if (known := look_up(text)) is not None:
        return known
    for sentence in sentences:
        found = sentence.pattern.fullmatch(text)
        if found is not None and (template := look_up(sentence.template)) is not None:
            return template.format(
                **{name: translate(value, look_up, sentences) for name, value in found.groupdict().items()}
            )
    return None
