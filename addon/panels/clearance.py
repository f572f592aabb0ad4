"""What runs into what in the live pose."""

from __future__ import annotations

import bpy

from ..bridge.figure_text import HitFigure
from ..bridge.figures import drawn_before, drawn_clearance, drawn_figures
from ..bridge.resting import running_checks
from ..translations.phrases import say
from .figures import STATE_ICONS
from .tab import Tab, write_wrapped

ADDON = __package__.rpartition(".")[0]
MOST_ROWS = 8
FIRST_TIME = "Not checked in this pose. The check reads every mesh file."


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
        preferences = context.preferences.addons[ADDON].preferences
        layout.prop(preferences, "check_at_rest")
        if not followed:
            layout.operator("counterpoise.check_clearance", icon="MOD_BOOLEAN")
        if live is not None and live.hits is None and not (followed or preferences.check_at_rest):
            write_wrapped(layout, context, FIRST_TIME, "INFO")
        elif live is not None:
            column = layout.column(align=True)
            column.active = current
            if live.hits is None and running_checks() is not None:
                column.active = False
                column.label(text="Measuring… Before:", icon="SORTTIME")
                _draw_hits(column, drawn_before(context.scene)[1])
            elif live.hits is None:
                column.label(text="Not known until the pose rests", icon=STATE_ICONS["not known"])
            else:
                _draw_hits(column, live.hits)
        row = layout.row()
        row.prop(context.scene.counterpoise.overlays, "hits")
        row.operator("counterpoise.allow_clearance", text=allowed or "Allowed Depth")


def _draw_hits(layout: bpy.types.UILayout, hits: tuple[HitFigure, ...]) -> None:
    """The worst ones; a click selects the two elements."""
    if not hits:
        layout.label(text="Nothing runs into another", icon=STATE_ICONS["holds"])
    for hit in hits[:MOST_ROWS]:
        row = layout.split(factor=0.76, align=True)
        left = row.row(align=True)
        left.alignment = "LEFT"
        show = left.operator("counterpoise.show_hit", text=hit.title, icon=STATE_ICONS[hit.state], emboss=False)
        show.first, show.second = hit.elements
        row.label(text=hit.depth)
    if len(hits) > MOST_ROWS:
        layout.label(text=say("and {count} more", count=len(hits) - MOST_ROWS), icon="BLANK1")


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_clearance,))
