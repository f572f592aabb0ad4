"""Counterpoise for Blender: scans in; joints, a rig, figures for every pose; a hand-over out."""

from __future__ import annotations

from . import draw, operators, panels, preferences, properties, translations
from .bridge import (
    arcs,
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
    in_hand = (ranges.find_ranges, arcs.find_arcs, marks.find_marks)
    of_all = (balance.find_balance, cursor_note.find_note)
    draw.follow(pose_pictures.find_ghosts, posed_facets.find_facets, *in_hand, *of_all)


def unregister() -> None:
    for part in reversed(PARTS):
        part.unregister()
