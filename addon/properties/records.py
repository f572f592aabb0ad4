"""Rows of the list of records: they mirror the document, which owns what was put right and set by hand."""

from __future__ import annotations

import bpy


class CounterpoiseRecordRow(bpy.types.PropertyGroup):
    """One row: what was done to which elements; the newest record is the first row."""

    name: bpy.props.StringProperty(name="Record", description="What was done, and to which elements")
    counts: bpy.props.BoolProperty(description="The last correction that was not put back")
    kind: bpy.props.StringProperty(description="Correction, override or addition")


register, unregister = bpy.utils.register_classes_factory((CounterpoiseRecordRow,))
