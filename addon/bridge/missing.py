"""What seems to be missing of the skeleton, in words, with how it could be made."""

from __future__ import annotations

from dataclasses import dataclass

import bpy

from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.inventory import read_expected
from ..core_calcs.studies.missing_list import list_missing
from .figures import drawn_joints
from .kept_document import KeptDocument


@dataclass(frozen=True)
class MissingFigure:
    """A bone that is missing, or may be.

    name : proposed for it; empty where none is known
    way, source : how and of which element it could be made; empty where that is not known
    position : in its series; 0: none
    """

    name: str
    what: str
    way: str
    source: str
    position: int


_kept: dict[str, tuple[tuple[str, str], tuple[MissingFigure, ...]]] = {}
"""By scene: document and counts expected, and what was found for them."""


def drawn_missing(scene: bpy.types.Scene) -> tuple[MissingFigure, ...] | None:
    """Of the document as it was last read, against the counts expected; None where there is none."""
    kept, _ = drawn_joints(scene)
    if kept is None:
        return None
    key = (kept.digest, scene.counterpoise.expected)
    if scene.name not in _kept or _kept[scene.name][0] != key:
        _kept[scene.name] = (key, _find_missing(kept, scene.counterpoise.expected))
    return _kept[scene.name][1]


def _find_missing(kept: KeptDocument, expected: str) -> tuple[MissingFigure, ...]:
    try:
        counts = read_expected(expected)
    except CounterpoiseError:  # the survey tells what is wrong with it
        counts = ()
    return tuple(
        MissingFigure(own.name, own.what, own.way or "", own.source, own.position or 0)
        for own in list_missing(kept.document.skeleton, counts)
    )
