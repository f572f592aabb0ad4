"""What an audit says of how an element stands: the ways it was tried in, and how well it fits in each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from ..spatial.errors import SkeletonError
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
    places : (4, 4) X_WE, by element, of the own surface of each that this way concerns; empty where they stand so
    """

    way: str
    score: float
    figures: tuple[tuple[str, float], ...]
    places: Mapping[str, Array] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, eq=False)
class Verdict:
    """What is said of an element, or of several that stand in each other's place.

    elements : by name
    decision : `wrong` where another way than as placed is clearly better; `undecided` where none is clear
    ratings : of the ways tried, the best first
    places : (4, 4) X_WE, by element, of each element's own surface in the way that counts; empty unless it is wrong
    what : in words, with the figures that it rests on
    chosen : the way that counts, where a person chose it; else it is the best one
    """

    fault: Fault
    elements: tuple[str, ...]
    decision: Decision
    ratings: tuple[Rating, ...]
    places: Mapping[str, Array]
    what: str
    chosen: str = ""


def list_choices(verdict: Verdict) -> tuple[str, ...]:
    """The ways among which one who knows better may choose, the best first; none where one was found wrong already."""
    if verdict.decision == "wrong":
        return ()
    return tuple(rating.way for rating in verdict.ratings if rating.places)


def choose_way(verdict: Verdict, way: str) -> Verdict:
    """A verdict as a person decides it who knows better than shapes tell, of the elements that the way concerns.

    Raises
    ------
    SkeletonError : the audit finds another way to be right; it did not try that way, or found no place for it
    """
    of = " and ".join(verdict.elements)
    if verdict.decision == "wrong":
        what = "the audit has decided: wrong"
        raise SkeletonError(of, what, "put it right as it says, without choosing a way, or place it by hand")
    choices = list_choices(verdict)
    if way not in choices:
        remedy = f"choose one of: {', '.join(choices)}" if choices else "place it by hand"
        raise SkeletonError(of, f"{way} is no way that the audit tried and has a place for", remedy)
    places = next(rating.places for rating in verdict.ratings if rating.way == way)
    what = f"{way}: chosen by hand where the audit could not tell. {verdict.what}"
    if verdict.decision == "as placed":
        what = f"{way}: chosen by hand against the audit, which finds it as placed. {verdict.what}"
    return replace(verdict, elements=tuple(places), decision="wrong", places=places, what=what, chosen=way)
