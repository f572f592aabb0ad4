"""How a state is shown: a word, a symbol and a colour, never colour alone.

Colours: Okabe & Ito, Color Universal Design (2008).
"""

from __future__ import annotations

from dataclasses import dataclass

from ..studies.assessment import State


@dataclass(frozen=True)
class StateMark:
    """Symbol, colour of the symbol, and the name of the style in the page."""

    symbol: str
    colour: str
    style: str


STATE_MARKS: dict[State, StateMark] = {
    "holds": StateMark("●", "#009E73", "holds"),
    "close": StateMark("▲", "#E69F00", "close"),
    "fails": StateMark("✕", "#D55E00", "fails"),
    "not known": StateMark("?", "#5F6670", "unknown"),
}

BLUE, ORANGE, INK = "#0072B2", "#E69F00", "#222222"
