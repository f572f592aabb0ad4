"""What every panel of the tab shares."""

from __future__ import annotations

import textwrap

import bpy


class Tab:
    """Mixed into a panel: where it is shown."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Counterpoise"


def write_wrapped(layout: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: str = "NONE") -> None:
    """A text over as many lines as the sidebar's width needs."""
    scale = context.preferences.system.ui_scale
    width = max(20, int(context.region.width / (7.2 * scale)) - (6 if icon != "NONE" else 3))
    column = layout.column(align=True)
    column.scale_y = 0.8
    for i, line in enumerate(textwrap.wrap(text, width)):
        column.label(text=line, icon=icon if i == 0 else ("BLANK1" if icon != "NONE" else "NONE"))
