"""Where the skeleton stands, and what acts on it there besides its weight."""

from __future__ import annotations

from collections.abc import Iterable

import bpy

from ..bridge.figures import drawn_live, is_unreadable
from ..bridge.resting import running_checks
from ..bridge.site_text import SiteFigures, drawn_site, drawn_wind
from ..bridge.siting import element_in_hand
from ..translations.phrases import say, tell
from .tab import Tab, write_pair, write_wrapped

ACTION_ICONS = {"push": "FORCE_FORCE", "pull": "FORCE_MAGNETIC", "person": "USER"}


class COUNTERPOISE_PT_site(Tab, bpy.types.Panel):
    """Ground, wind, what is under each foot, partial factors; who may push, pull or climb, and where"""

    bl_idname = "COUNTERPOISE_PT_site"
    bl_label = "Site and Actions"
    bl_parent_id = "COUNTERPOISE_PT_figures"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, site = self.layout, drawn_site(context.scene)
        if site is None:
            write_wrapped(layout, context, "Not known." if is_unreadable(context.scene) else "Being read.", "INFO")
            return
        draw_actions(layout, context, site)
        draw_group(layout, context, say("Ground"), "counterpoise.set_site", site.ground)
        draw_footings(layout, context, site)
        wind = draw_group(layout, context, say("Wind"), "counterpoise.set_wind", site.wind)
        if told := drawn_wind(context.scene):
            _, live = drawn_live(context.scene)
            measured = running_checks() is None or (live is not None and live.shown is not None)
            row = wind.column()
            row.active = measured
            write_wrapped(row, context, told if measured else "Measuring…", "INFO" if measured else "SORTTIME")
            wind.operator("counterpoise.measure_wind", icon="LIGHT_SUN")
        head = say("Partial Factors, Changed") if site.changed else say("Partial Factors")
        draw_group(layout, context, head, "counterpoise.set_factors", site.factors, 0.75)


def draw_actions(layout: bpy.types.UILayout, context: bpy.types.Context, site: SiteFigures) -> None:
    """Every action with its force and a cross; below, how to add one."""
    for own in site.actions:
        box = layout.box().column(align=True)
        row = box.row(align=True)
        row.label(text=own.name, icon=ACTION_ICONS[own.kind])
        row.operator("counterpoise.remove_action", text="", icon="X", emboss=False).name = own.name
        write_wrapped(box, context, own.text, "BLANK1")
    layout.operator("counterpoise.add_action", icon="ADD")
    if not element_in_hand(context):
        hint = "Select an element, or its bone, and put the 3D cursor on it (Shift right-click)."
        write_wrapped(layout, context, hint, "INFO")


def draw_footings(layout: bpy.types.UILayout, context: bpy.types.Context, site: SiteFigures) -> None:
    """Every foot with what is under it."""
    if not site.footings:
        return
    box = layout.box().column(align=True)
    draw_head(box, say("Footings"))
    for own in site.footings:
        row = box.row(align=True)
        split = row.split(factor=0.5, align=True)
        split.label(text=tell(own.foot))
        split.label(text="" if own.said else own.text)
        row.operator("counterpoise.set_footing", text="", icon="GREASEPENCIL", emboss=False).foot = own.foot
        if own.said:
            row.operator("counterpoise.remove_footing", text="", icon="LOOP_BACK", emboss=False).foot = own.foot
            write_wrapped(box, context, own.text, "BLANK1")


def draw_group(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    head: str,
    operator: str,
    rows: Iterable[tuple[str, str]],
    names: float = 0.55,
) -> bpy.types.UILayout:
    """Names and values under a head with a pencil; returns their box. names : share of the width that names take"""
    box = layout.box().column(align=True)
    draw_head(box, head).operator(operator, text="", icon="GREASEPENCIL", emboss=False)
    for name, value in rows:
        write_pair(box, context, name, value, names)
    return box


def draw_head(layout: bpy.types.UILayout, head: str) -> bpy.types.UILayout:
    """A fainter line above what belongs together; returns its row."""
    row = layout.row(align=True)
    label = row.row()
    label.active = False
    label.label(text=head)
    return row


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_site,))
