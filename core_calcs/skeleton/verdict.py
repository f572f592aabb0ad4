"""What an audit says of how an element stands: the ways it was tried in, and how well it fits in each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ..spatial.transforms import Array

Fault = Literal["turned", "mirrored", "exchanged"]
"""Turned: by half a turn; mirrored: its surface is a mirror image of the bone; exchanged: two stand in each other's
place."""
Decision = Literal["as placed", "wrong", "undecided"]


@dataclass(frozen=True)
class Rating:
    """One way that elements may stand, and how well they fit so.

    way : in words: as placed, end for end, exchanged with …
    score : the greater the better
    figures : what it is made of, each with its name and unit, e.g. ("facets that meet [s²]", .31)
    """

    way: str
    score: float
    figures: tuple[tuple[str, float], ...]


@dataclass(frozen=True, eq=False)
class Verdict:
    """What is said of an element, or of several that stand in each other's place.

    elements : by name
    decision : `wrong` where another way than as placed is clearly better; `undecided` where none is clear
    ratings : of the ways tried, the best first
    places : (4, 4) X_WE, by element, of each element's own surface in the best way; empty unless it is wrong
    what : in words, with the figures that it rests on
    """

    fault: Fault
    elements: tuple[str, ...]
    decision: Decision
    ratings: tuple[Rating, ...]
    places: Mapping[str, Array]
    what: str
