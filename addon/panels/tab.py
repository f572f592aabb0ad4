"""What every panel of the tab shares."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

import bpy

from ..operators.pages import is_pointed_to
from ..translations.phrases import name_language, tell

LETTER_PX = 7.2
"""Width of a letter, on average."""

LABEL_PX, BOX_PX = 5.8, 40.0
"""The same in a label (measured with Blender's font, 11 px: 5.7 to 6.2), and what box and margins take beside it."""

FIELD = 0.42
"""Share of the sidebar's width that a path's field has for text."""

NAMES = 0.36
"""Share of a row's width that names take, where values stand beside them."""

NARROW_PX, LONGER = 250.0, 1.3
"""A sidebar that is narrower [px of a screen that is not scaled] has no room for that; by how much other languages want
more than English (Spanish, seen)."""


class Tab:
    """Mixed into a panel: where it is shown; its heading has a question mark that opens its page."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Counterpoise"

    def draw_header_preset(self, _context: bpy.types.Context) -> None:
        show_page(self)


def show_page(panel: bpy.types.Panel) -> None:
    """At the right end of a panel's heading: what opens its page of the docs, which is called as the panel is."""
    page = f"panels/{panel.bl_idname.removeprefix('COUNTERPOISE_PT_')}"
    row = panel.layout.row()
    row.alert = is_pointed_to(page)
    row.active = row.alert  # else fainter than what the panel says
    row.operator("counterpoise.open_page", text="", icon="HELP", emboss=False).page = page


def show_path(layout: bpy.types.UILayout, context: bpy.types.Context, path: str) -> None:
    """The end of a path that is too long for its field, on a line of its own: the end is what tells paths apart."""
    field = int(context.region.width * FIELD / (LETTER_PX * context.preferences.system.ui_scale))
    if len(path) <= field:
        return
    row = layout.row()
    row.alignment = "RIGHT"
    row.active = False
    row.label(text=end_of_path(path, line_width(context) - 2))


def end_of_path(path: str, letters: int) -> str:
    """The last parts of a path that fit, after an ellipsis; the end of its last part where not even that fits."""
    path = path.rstrip("/\\")
    if len(path) <= letters:
        return path
    end = path[-max(1, letters - 1) :]
    cuts = [i for i in (end.find("/"), end.find("\\")) if i >= 0]
    return "…" + (end[min(cuts) :] if cuts else end)


def is_narrow(context: bpy.types.Context) -> bool:
    """Whether names and values do not fit beside each other in the sidebar: then they stand below each other."""
    wanted = NARROW_PX if name_language()[:2] in ("", "en") else LONGER * NARROW_PX
    return context.region.width < wanted * context.preferences.system.ui_scale


def count_columns(context: bpy.types.Context, labels: Iterable[str] = ()) -> int:
    """So many buttons of two words fit beside each other in the sidebar, or check boxes of those labels."""
    longest = max((len(tell(label)) for label in labels), default=0)
    half = context.region.width / context.preferences.system.ui_scale / 2
    return 1 if is_narrow(context) or (longest and BOX_PX + LABEL_PX * longest > half) else 2


def write_beside(layout: bpy.types.UILayout, context: bpy.types.Context, name: str, share: float) -> bpy.types.UILayout:
    """A name with room for its choices beside it, in a narrow sidebar below it; returns that room.

    share : of the width that the name takes
    """
    if is_narrow(context):
        column = layout.column(align=True)
        column.label(text=name)
        return column.row(align=True)
    split = layout.split(factor=share)
    split.label(text=name)
    return split.row(align=True)


def write_choices(layout: bpy.types.UILayout, context: bpy.types.Context, name: str) -> bpy.types.UILayout:
    """A name above room for choices of two words each, which stand below each other in a narrow sidebar."""
    column = layout.column(align=True)
    column.label(text=name)
    return column.column(align=True) if is_narrow(context) else column.row(align=True)


def write_pair(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    name: str,
    value: str,
    share: float = NAMES,
    icon: str = "NONE",
) -> None:
    """A name and its value beside each other, below each other in a narrow sidebar. share : of the width"""
    if is_narrow(context):
        layout.label(text=name, icon=icon)
        write_wrapped(layout, context, value, "BLANK1")
        return
    split = layout.split(factor=share)
    split.label(text=name, icon=icon)
    split.label(text=value)


def line_width(context: bpy.types.Context) -> int:
    """How many letters a line of the sidebar holds."""
    letters = int(context.region.width / (LETTER_PX * context.preferences.system.ui_scale))
    return max(20, letters - (6 if context.region.width < NARROW_PX * context.preferences.system.ui_scale else 3))


def write_wrapped(layout: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: str = "NONE") -> None:
    """A text, in the interface's language, over as many lines as the sidebar's width needs."""
    width = max(20, line_width(context) - (3 if icon != "NONE" else 0))
    column = layout.column(align=True)
    column.scale_y = 0.8
    for i, line in enumerate(textwrap.wrap(tell(text), width)):
        column.label(text=line, icon=icon if i == 0 else ("BLANK1" if icon != "NONE" else "NONE"))
