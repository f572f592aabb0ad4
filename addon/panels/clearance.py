"""What runs into what in the live pose."""

from __future__ import annotations

import bpy

from ..bridge.figure_text import HitFigure
from ..bridge.figures import drawn_before, drawn_clearance, drawn_figures
from ..bridge.resting import find_left, running_checks
from ..translations.phrases import say
from .figures import ADDON, STATE_ICONS
from .tab import Tab, write_wrapped

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
        unknown = live is not None and live.hits is None
        if not followed or (unknown and not preferences.check_at_rest):
            layout.operator("counterpoise.check_clearance", icon="MOD_BOOLEAN")
        if unknown and not preferences.check_at_rest:
            write_wrapped(layout, context, FIRST_TIME, "INFO")
        elif live is not None:
            column = layout.column(align=True)
            column.active = current
            if unknown and running_checks() is not None:
                column.active = False
                column.label(text="Measuring… Before:", icon="SORTTIME")
                _draw_hits(column, drawn_before(context.scene)[1])
            elif unknown:
                column.label(text=_tell_unknown(find_left(context.scene)), icon=STATE_ICONS["not known"])
            else:
                _draw_hits(column, live.hits)
        row = layout.row()
        row.prop(context.scene.counterpoise.overlays, "hits")
        row.operator("counterpoise.allow_clearance", text=allowed or "Allowed Depth")


def _tell_unknown(left: str | None) -> str:
    """In short; what went wrong stands above, among the figures."""
    if left is None:
        return say("Not known until the pose rests")
    return say("Not known: it could not be checked") if left else say("Not known: the check was stopped")


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
