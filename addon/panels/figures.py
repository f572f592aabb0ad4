"""The figures of the live pose, with their states in words."""

from __future__ import annotations

import bpy

from ..bridge.figure_text import CLEARANCE, SLOW, Finding
from ..bridge.figures import PoseFigures, current_problem, drawn_before, drawn_figures, drawn_live
from ..bridge.resting import find_left, running_checks
from ..properties.icons import STATE_ICONS as STATE_ICONS
from ..translations.phrases import say, tell
from .skeletons import draw_hint
from .tab import Tab, write_pair, write_wrapped

ADDON = __package__.rpartition(".")[0]

CAUTIONS = (
    "Preliminary: a licensed structural engineer and the local codes decide. Limits are bone and facet limits at the "
    "stated settings, not a range of living motion. Cast as the document says, solid where it says nothing; "
    "discs and steel are in it where it has any. Besides self-weight only what the site lists acts."
)


class COUNTERPOISE_PT_figures(Tab, bpy.types.Panel):
    """Figures of the poses"""

    bl_idname = "COUNTERPOISE_PT_figures"
    bl_label = "5  Figures"
    bl_order = 4

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        draw_hint(layout, context)
        live, _, current = drawn_figures(context.scene)
        box = layout.box()
        box.label(text="Live pose" if current else "Live pose, being computed", icon="POSE_HLT")
        if problem := current_problem(context.scene):
            write_wrapped(box, context, say("Not known. {problem}", problem=problem), "QUESTION")
        elif live is not None:
            column = box.column()
            column.active = current
            draw_pose(column, context, live, list_measured(context.scene))
            draw_left(box, context)


class COUNTERPOISE_PT_cautions(Tab, bpy.types.Panel):
    """What the figures are not"""

    bl_idname = "COUNTERPOISE_PT_cautions"
    bl_label = "Cautions"
    bl_parent_id = "COUNTERPOISE_PT_figures"
    bl_order = 1
    bl_options = {"HIDE_HEADER"}  # noqa: RUF012  Blender wants a plain set

    def draw(self, context: bpy.types.Context) -> None:
        write_wrapped(self.layout, context, CAUTIONS, "INFO")


def list_measured(scene: bpy.types.Scene) -> dict[str, Finding | None]:
    """The checks of the live pose that those which are going on answer, with what each said last."""
    going, live = running_checks(), drawn_live(scene)[1]
    if going is None or live is None:
        return {}
    names = SLOW if going.order.blow and live.found.balance is not None else (CLEARANCE,)
    return {name: drawn_before(scene)[0].get(name) for name in names}


def draw_pose(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    figures: PoseFigures,
    measured: dict[str, Finding | None] | None = None,
) -> None:
    """All figures of one pose, then every check with its state.

    measured : checks that are being made again, with what they said last
    """
    rows = (
        (say("Mass"), figures.mass),
        (say("Centre of mass"), figures.centre),
        (say("Base moment"), figures.base_moment),
        (say("Margin"), figures.margin),
        (say("Tip angle"), figures.tip_angle),
        (say("Outside range"), figures.outside),
    )
    column = layout.column(align=True)
    for name, value in rows:
        write_pair(column, context, name, value)
    column = layout.column(align=True)
    for finding in figures.findings:
        if measured and finding.state == "not known" and finding.name in measured:
            draw_measured(column, context, finding.name, measured[finding.name])
            continue
        write_wrapped(
            column, context, f"{tell(finding.name)}: {tell(finding.state)}. {finding.text}", STATE_ICONS[finding.state]
        )


def draw_measured(layout: bpy.types.UILayout, context: bpy.types.Context, name: str, before: Finding | None) -> None:
    """A check that is being made, greyed, with what it said last."""
    row = layout.column()
    row.active = False
    told = say("{name}: measuring…", name=tell(name))
    if before is not None:
        values = {"name": tell(name), "state": tell(before.state), "text": before.text}
        told = say("{name}: measuring… Before: {state}. {text}", **values)
    write_wrapped(row, context, told, "SORTTIME")


def draw_left(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """That what follows a pose at rest was stopped, or what went wrong; and what begins it anew."""
    why = find_left(context.scene)
    if why is None or not context.preferences.addons[ADDON].preferences.check_at_rest:
        return
    told = say("The check at rest was stopped. The next turn of a bone begins it anew")
    if why:
        told = say("The pose could not be checked at rest: {problem}", problem=tell(why))
    column = layout.column(align=True)
    write_wrapped(column, context, told, STATE_ICONS["not known"])
    column.operator("counterpoise.check_again", icon="FILE_REFRESH")


CLASSES = (COUNTERPOISE_PT_figures, COUNTERPOISE_PT_cautions)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
