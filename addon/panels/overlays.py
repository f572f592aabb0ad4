"""All that is drawn over the view, each on or off: in the tab, and where Blender has its own overlays."""

from __future__ import annotations

import bpy

from ..translations.phrases import say
from .tab import Tab, count_columns, write_beside, write_choices

NAMES = 0.28
"""Share of a row's width that names of choices take."""


class COUNTERPOISE_PT_overlays(Tab, bpy.types.Panel):
    """What is drawn over the view, each on or off"""

    bl_idname = "COUNTERPOISE_PT_overlays"
    bl_label = "Overlays"
    bl_order = 6
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        draw_overlays(self.layout, context)


class COUNTERPOISE_PT_view_overlays(bpy.types.Panel):
    """The same among the overlays of the view"""

    bl_idname = "COUNTERPOISE_PT_view_overlays"
    bl_label = "Counterpoise"
    bl_space_type = "VIEW_3D"
    bl_region_type = "HEADER"
    bl_parent_id = "VIEW3D_PT_overlay"
    bl_options = {"HIDE_HEADER"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout  # Blender writes the panel's label above it
        layout.active = context.space_data.overlay.show_overlays
        draw_overlays(layout, context)


def draw_overlays(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """By what they tell of: the joint in hand, all joints, how it stands, elements."""
    settings = context.scene.counterpoise
    overlays = settings.overlays
    for head, names in (
        (say("Joint in Hand"), ("arcs", "stops")),
        (say("All Joints"), ("ranges", "hits")),
        (say("Balance"), ("support", "reactions", "moments", "rose")),
        (say("Other Poses"), ("ghosts", "mounted")),
    ):
        column = layout.column(align=True)
        row = column.row()
        row.active = False
        row.label(text=head)
        labels = {name: say("Clashes") if name == "hits" else overlays.bl_rna.properties[name].name for name in names}
        columns = count_columns(context, labels.values())
        grid = column.grid_flow(row_major=True, columns=columns, even_columns=True, align=True)
        for name, label in labels.items():
            grid.prop(overlays, name, text=label)
    write_beside(layout, context, say("Facets"), NAMES).prop(overlays, "facets", expand=True)
    write_choices(layout, context, say("Colours")).prop(settings, "colours", expand=True)


CLASSES = (COUNTERPOISE_PT_overlays, COUNTERPOISE_PT_view_overlays)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
