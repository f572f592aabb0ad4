"""Counterpoise for Blender: scans in; joints, a rig, figures for every pose; a hand-over out."""

from __future__ import annotations

from . import draw, operators, panels, preferences, properties, translations
from .bridge import (
    balance,
    cursor_note,
    handlers,
    long_work,
    marks,
    mesh_files,
    mounted,
    pose_pictures,
    posed_facets,
    ranges,
    resting,
)

PARTS = (
    translations,
    preferences,
    properties,
    operators,
    panels,
    handlers,
    mesh_files,
    resting,
    long_work,
    mounted,
    pose_pictures,
    posed_facets,
    ranges,
    balance,
    draw,
)


def register() -> None:
    for part in PARTS:
        part.register()
    finders = (pose_pictures.find_ghosts, posed_facets.find_facets, ranges.find_ranges, marks.find_marks)
    draw.follow(*finders, balance.find_balance, cursor_note.find_note)


def unregister() -> None:
    for part in reversed(PARTS):
        part.unregister()
