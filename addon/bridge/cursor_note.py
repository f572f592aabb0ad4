"""What a posing tool says beside the mouse, for the view to draw."""

from __future__ import annotations

from dataclasses import dataclass

import bpy
import numpy as np


@dataclass(frozen=True, eq=False)
class CursorNote:
    """A note beside the mouse.

    region : address of the one that the tool works in; mouse : in its pixels
    lines : what is said, the first as a heading
    state : holds, close where it stands at a limit, fails beyond one, not known
    bones : (n, 2, 3) lines in the scene that it is not to cover
    target : (3,) in the scene, that a chain is to reach; None where there is none
    """

    region: int
    mouse: tuple[float, float]
    lines: tuple[str, ...]
    state: str
    bones: np.ndarray
    target: tuple[float, float, float] | None = None


_notes: list[CursorNote] = []
"""At most one: Blender runs one tool at a time."""


def show_note(note: CursorNote) -> None:
    """Say this from now on."""
    _notes[:] = [note]


def hide_note() -> None:
    """Say nothing."""
    _notes.clear()


def find_note(context: bpy.types.Context) -> CursorNote | None:
    """What is to be said in the region that is being drawn."""
    return next((note for note in _notes if context.region.as_pointer() == note.region), None)
