"""Rows of the list of castings: they mirror the document, which owns how everything is cast."""

from __future__ import annotations

import bpy

LEVELS = [
    ("ALL", "All", "The whole skeleton"),
    ("SERIES", "Series", "All elements of a series"),
    ("ELEMENT", "Element", "One element"),
]


class CounterpoiseCastingRow(bpy.types.PropertyGroup):
    """One row: the whole, a series, or an element of the series above it."""

    name: bpy.props.StringProperty(name="Name", description="Of the skeleton, the series or the element")
    level: bpy.props.EnumProperty(name="Level", description="What the row stands for", items=LEVELS)


register, unregister = bpy.utils.register_classes_factory((CounterpoiseCastingRow,))
