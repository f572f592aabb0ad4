"""What runs into what in the live pose."""

from __future__ import annotations

import bpy

from ..bridge.figures import PoseFigures, drawn_clearance, drawn_figures
from .figures import STATE_ICONS
from .tab import Tab, write_wrapped

MOST_ROWS = 8
FIRST_TIME = "Not looked at yet. Every mesh file is read for it; from then on it follows the pose."


class COUNTERPOISE_PT_clearance(Tab, bpy.types.Panel):
    """Elements that run into each other in the live pose, deeper than at neutral"""

    bl_idname = "COUNTERPOISE_PT_clearance"
    bl_label = "Clearance"
    bl_parent_id = "COUNTERPOISE_PT_figures"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, (allowed, followed) = self.layout, drawn_clearance(context.scene)
        live, _, current = drawn_figures(context.scene)
        if not followed:
            layout.operator("counterpoise.check_clearance", icon="MOD_BOOLEAN")
            write_wrapped(layout, context, FIRST_TIME, "INFO")
        elif live is not None:
            column = layout.column(align=True)
            column.active = current
            _draw_hits(column, context, live)
        row = layout.row()
        row.prop(context.scene.counterpoise.overlays, "hits")
        row.operator("counterpoise.allow_clearance", text=allowed or "Allowed Depth")


def _draw_hits(layout: bpy.types.UILayout, context: bpy.types.Context, live: PoseFigures) -> None:
    """The worst ones; a click selects the two elements."""
    hits = live.hits or ()
    if live.hits is None:
        layout.label(text="Not known until the pose rests", icon=STATE_ICONS["not known"])
    elif not hits:
        layout.label(text="Nothing runs into another", icon=STATE_ICONS["holds"])
    for hit in hits[:MOST_ROWS]:
        row = layout.split(factor=0.76, align=True)
        left = row.row(align=True)
        left.alignment = "LEFT"
        show = left.operator("counterpoise.show_hit", text=hit.title, icon=STATE_ICONS[hit.state], emboss=False)
        show.first, show.second = hit.elements
        row.label(text=hit.depth)
    if len(hits) > MOST_ROWS:
        layout.label(text=f"and {len(hits) - MOST_ROWS} more", icon="BLANK1")


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_clearance,))
