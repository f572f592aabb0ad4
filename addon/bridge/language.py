"""The interface's language: what is shown in words is composed anew when the user changes it."""

from __future__ import annotations

from collections.abc import Callable

import bpy

FOLLOWED = ("language", "use_translate_interface")
"""Of Blender's preferences for the interface."""

_owner = object()


def follow_language(note: Callable[[], None]) -> None:
    """Have it called whenever the language changes, once; Blender forgets this when it loads a file."""
    leave_language()
    for name in FOLLOWED:
        bpy.msgbus.subscribe_rna(key=(bpy.types.PreferencesView, name), owner=_owner, args=(), notify=note)


def leave_language() -> None:
    """Have it called no more."""
    bpy.msgbus.clear_by_owner(_owner)
