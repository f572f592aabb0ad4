"""What was put right or overridden in a skeleton: what, why, on what evidence, by whom, when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from ..spatial.transforms import Array

RecordKind = Literal["correction", "override", "addition"]
"""Correction: an error of the mount was put right; override: what was found or computed was set aside by hand;
addition: a bone that was missing was made of another."""
Action = Literal[
    "turned",
    "exchanged",
    "mirrored",
    "assembled",
    "placed",
    "follows two",
    "disc",
    "facet marked",
    "joint set",
    "joint fixed",
    "frame moved",
    "settings",
    "factors",
    "made of another",
    "put back",
]


@dataclass(frozen=True, eq=False)
class Record:
    """One change to a skeleton that somebody answers for.

    action : in a word; elements : that it concerns, by name; empty where it is about the site
    what : was done, in words with figures
    why : in the user's words; empty where none was asked for
    evidence : the figures that it rests on; empty where none are known
    by : who did it, as typed; empty where nobody said
    when : UTC, as 2026-11-27T03:10:00Z
    before : (4, 4) by element, from its frame E to its parent's, discs left out (the root's: to the world): how the
        surface stood that was put right; empty where nothing was moved by a correction
    """

    kind: RecordKind
    action: Action
    elements: tuple[str, ...]
    what: str
    why: str
    evidence: str
    by: str
    when: str
    before: Mapping[str, Array] = field(default_factory=dict)

    @property
    def concerns(self) -> str:
        """What it is about, in words."""
        return ", ".join(self.elements) or "the site"
