"""What is not mounted at all: loose elements are put together, missing bones are made of others."""

from __future__ import annotations

import bpy

from ..bridge.missing import MissingFigure, drawn_missing
from ..translations.phrases import say
from .tab import Tab, show_page, write_wrapped

MOST_ROWS = 12
"""So many missing bones are listed."""


class COUNTERPOISE_PT_assembly(Tab, bpy.types.Panel):
    """Loose elements put together by their facets"""

    bl_idname = "COUNTERPOISE_PT_assembly"
    bl_label = "Assembly"
    bl_parent_id = "COUNTERPOISE_PT_skeleton"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("counterpoise.assemble", icon="SNAP_ON")
        hint = "Facets come from marks (Mark Facet), from another document, or from the joints as they are."
        write_wrapped(layout, context, hint, "INFO")


class COUNTERPOISE_PT_missing(Tab, bpy.types.Panel):
    """Bones that seem to be missing, to be made of others"""

    bl_idname = "COUNTERPOISE_PT_missing"
    bl_label = "Missing Bones"
    bl_parent_id = "COUNTERPOISE_PT_skeleton"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        if missing := drawn_missing(context.scene):
            self.layout.label(text=str(len(missing)))
        show_page(self)

    def draw(self, context: bpy.types.Context) -> None:
        layout, missing = self.layout, drawn_missing(context.scene)
        layout.operator("counterpoise.add_bone", icon="ADD")
        if missing is None:
            return
        if not missing:
            write_wrapped(layout, context, "Nothing seems to be missing", "CHECKMARK")
        for own in missing[:MOST_ROWS]:
            draw_missing(layout.column(align=True), context, own)
        if len(missing) > MOST_ROWS:
            layout.label(text=say("and {count} more", count=len(missing) - MOST_ROWS), icon="BLANK1")


def draw_missing(layout: bpy.types.UILayout, context: bpy.types.Context, own: MissingFigure) -> None:
    """Its name, with the button that makes it where it is known how; why it seems to be missing below."""
    row = layout.row(align=True)
    row.label(text=own.name or "Not named", icon="QUESTION")
    if own.way:
        add = row.operator("counterpoise.add_bone", text="", icon="ADD", emboss=False)
        add.name, add.way, add.source, add.position = own.name, own.way, own.source, own.position
    why = layout.column()
    why.active = False
    write_wrapped(why, context, own.what, "BLANK1")


CLASSES = (COUNTERPOISE_PT_assembly, COUNTERPOISE_PT_missing)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
