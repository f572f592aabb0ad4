"""What the names of elements have in common: the kind of bone, and the same bone on the other side."""

from __future__ import annotations

import re

from .element import Side

_PAIRS = (
    *(("l", "r"), ("lt", "rt"), ("left", "right")),
    *(("sin", "dex"), ("sinister", "dexter"), ("sinistra", "dextra"), ("sinistrum", "dextrum")),
    *(("links", "rechts"), ("linker", "rechter"), ("linke", "rechte"), ("linkes", "rechtes")),
    *(("izquierdo", "derecho"), ("izquierda", "derecha"), ("izq", "der")),
    *(("gauche", "droit"), ("esquerdo", "direito"), ("esquerda", "direita"), ("sinistro", "destro"), ("sx", "dx")),
)
"""Left and right as collections write them: English, Latin, German, Spanish, French, Portuguese, Italian."""
SIDE_WORDS: dict[str, Side] = {"droite": "right", "destra": "right"}
"""What says a side; of some the word of the other side depends on the bone's gender, so that no partner is named."""
for _left, _right in _PAIRS:
    SIDE_WORDS |= {_left: "left", _right: "right"}
_OTHER = dict(_PAIRS) | {right: left for left, right in _PAIRS}


def name_partner(name: str) -> str:
    """The name of the same element on the other side; the name itself where it names no side.

    A side is a word of its own: `Femur.L`, `femur_left`, `Rib 3 dextra`; the last in the name counts. A single letter
    is one only beside a longer word: `L 4` is a lumbar vertebra.
    """
    words = re.split(r"([\W_]+)", name)
    for i in reversed(range(len(words))):
        if _is_side(words[i], words):
            other = _OTHER[words[i].lower()]
            words[i] = other.upper() if words[i].isupper() else other.title() if words[i].istitle() else other
            return "".join(words)
    return name


def name_kind(name: str) -> str:
    """The name without numbers and side, in small letters: `hand phalanx` of `hand phalanx 2-1 left`.

    What is left of a name that has nothing else is the name itself.
    """
    words = [word for word in re.split(r"[\W_]+", re.sub(r"(?<=[^\W\d])(?=\d)", " ", name.lower())) if word]
    kept = [word for word in words if not word.isdigit() and not _is_side(word, words)]
    return " ".join(kept) or name.lower()


def _is_side(word: str, words: list[str]) -> bool:
    """Whether a word of a name is its side."""
    others = [other for other in words if other is not word and any(letter.isalpha() for letter in other)]
    return word.lower() in _OTHER and any(len(word) > 1 or len(other) > 1 for other in others)
