"""The list of castings in the panel: rows that mirror the document. They are written from it and never read back.

As with the rows of poses: they belong to the scene and are written by operators and by the timer, never by a handler.
"""

from __future__ import annotations

import bpy

from ..core_calcs.spatial.errors import CounterpoiseError
from .kept_document import keep_document

Row = tuple[str, str]
"""Level and name: ALL, SERIES or ELEMENT."""


def mirror_castings(scene: bpy.types.Scene) -> None:
    """Make the rows those of the scene's document; where they are already nothing is written."""
    settings, wanted = scene.counterpoise, _list_wanted(scene)
    rows = settings.castings
    if [(row.level, row.name) for row in rows] != wanted:
        selected = selected_row(scene)
        rows.clear()
        for level, name in wanted:
            row = rows.add()
            row.level, row.name = level, name
        settings.casting_index = wanted.index(selected) if selected in wanted else 0


def selected_row(scene: bpy.types.Scene) -> Row | None:
    """Level and name of the row selected; None where the list is empty."""
    settings = scene.counterpoise
    if not 0 <= settings.casting_index < len(settings.castings):
        return None
    row = settings.castings[settings.casting_index]
    return row.level, row.name


def _list_wanted(scene: bpy.types.Scene) -> list[Row]:
    """The whole, then every series with its elements, in the order of the skeleton."""
    if scene.counterpoise.document is None:
        return []
    try:
        skeleton = keep_document(scene).document.skeleton
    except CounterpoiseError:  # the figures tell what is wrong with the document
        return []
    by_series: dict[str, list[str]] = {}
    for element in skeleton.elements:
        by_series.setdefault(element.series, []).append(element.name)
    rows: list[Row] = [("ALL", skeleton.name)]
    for series, names in by_series.items():
        rows += [("SERIES", series), *(("ELEMENT", name) for name in names)]
    return rows
