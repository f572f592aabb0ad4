"""The figures of the live pose and of every saved one, side by side, with their states in words."""

from __future__ import annotations

import bpy

from ..bridge.figures import PoseFigures, current_problem, live_figures, saved_figures
from .tab import Tab, write_wrapped

STATE_ICONS = {"holds": "CHECKMARK", "close": "ERROR", "fails": "CANCEL", "not known": "QUESTION"}

CAUTIONS = (
    "Preliminary: a licensed structural engineer and the local codes decide. Limits are bone and facet limits at the "
    "stated settings, not a range of living motion. Solid castings, no steelwork, no wind, no people."
)


class COUNTERPOISE_PT_figures(Tab, bpy.types.Panel):
    """Figures of the poses"""

    bl_idname = "COUNTERPOISE_PT_figures"
    bl_label = "4  Figures"
    bl_order = 3

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        if context.scene.counterpoise.document is None:
            write_wrapped(layout, context, "Needs a skeleton (step 2).", "INFO")
            return
        if problem := current_problem():
            write_wrapped(layout, context, problem, "ERROR")
        live = live_figures()
        if live is not None:
            _draw_live(layout, context, live)
        elif not problem:
            layout.label(text="Being computed", icon="TIME")
        _draw_saved(layout, context)
        layout.separator()
        write_wrapped(layout, context, CAUTIONS, "INFO")


def _draw_live(layout: bpy.types.UILayout, context: bpy.types.Context, figures: PoseFigures) -> None:
    box = layout.box()
    box.label(text="Live pose", icon="POSE_HLT")
    rows = (
        ("Mass", figures.mass),
        ("Centre x, y, z", figures.centre),
        ("Base moment", figures.base_moment),
        ("Margin", figures.margin),
        ("Tip angle", figures.tip_angle),
        ("Beyond limits", figures.beyond),
    )
    column = box.column(align=True)
    for name, value in rows:
        split = column.split(factor=0.36)
        split.label(text=name)
        split.label(text=value)
    column = box.column(align=True)
    for finding in figures.findings:
        write_wrapped(column, context, f"{finding.name}: {finding.state}. {finding.text}", STATE_ICONS[finding.state])


def _draw_saved(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    box = layout.box()
    box.label(text="Saved poses", icon="ARMATURE_DATA")
    saved = saved_figures()
    if not saved:
        write_wrapped(box, context, "None yet: save the live pose (step 3).")
    for figures in saved:
        column = box.column(align=True)
        row = column.row(align=True)
        row.label(text=f"{figures.pose}: {figures.state}", icon=STATE_ICONS[figures.state])
        row.operator("counterpoise.restore_pose", text="", icon="LOOP_BACK").name = figures.pose
        row.operator("counterpoise.delete_pose", text="", icon="TRASH").name = figures.pose
        write_wrapped(
            column,
            context,
            f"{figures.mass}, margin {figures.margin}, tips at {figures.tip_angle}, "
            f"base moment {figures.base_moment}, beyond limits {figures.beyond}",
        )


CLASSES = (COUNTERPOISE_PT_figures,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
