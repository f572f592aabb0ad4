"""How the live pose stands and pulls: what is drawn of it over the view, what feet and chains take."""

from __future__ import annotations

from collections.abc import Sequence

import bpy

from ..bridge.balance_text import BalanceFigures, Governing
from ..bridge.figures import drawn_figures, drawn_live
from ..translations.phrases import say, tell
from .figures import STATE_ICONS
from .tab import Tab, count_columns, is_narrow, write_pair, write_wrapped

BY_SPRINGS = (
    "Force: every foot equally stiff. Range: rigid feet on a rigid base, where equilibrium alone does not tell."
)

GOVERNING = 0.3
"""Share of a row's width that names take among the design values, whose values are long."""


class COUNTERPOISE_PT_balance(Tab, bpy.types.Panel):
    """What the feet take, how neck and tail pull, over which edge it would tip"""

    bl_idname = "COUNTERPOISE_PT_balance"
    bl_label = "Balance"
    bl_parent_id = "COUNTERPOISE_PT_figures"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, overlays = self.layout, context.scene.counterpoise.overlays
        names = ("support", "reactions", "moments", "rose")
        columns = count_columns(context, (overlays.bl_rna.properties[name].name for name in names))
        grid = layout.grid_flow(row_major=True, columns=columns, even_columns=True, align=True)
        for name in names:
            grid.prop(overlays, name, toggle=True)
        _, live = drawn_live(context.scene)
        if live is None:
            layout.label(text="Not known", icon=STATE_ICONS["not known"])
            return
        column = layout.column()
        column.active = drawn_figures(context.scene)[2]
        draw_balance(column, context, live.balance)


def draw_balance(layout: bpy.types.UILayout, context: bpy.types.Context, figures: BalanceFigures) -> None:
    """Feet, chains, base."""
    if figures.feet:
        column = layout.column(align=True)
        draw_row(column, context, (say("Foot"), say("Force"), say("Range")), head=True)
        for foot in figures.feet:
            icon = "BLANK1" if foot.state == "holds" else STATE_ICONS[foot.state]
            draw_row(column, context, (tell(foot.name), foot.force, foot.range), icon)
        write_wrapped(layout, context, BY_SPRINGS, "INFO")
    if figures.chains:
        column = layout.column(align=True)
        draw_row(column, context, (say("Chain"), say("Greatest moment"), say("At")), head=True)
        for chain in figures.chains:
            known = chain.moment != "not known"
            draw_row(
                column,
                context,
                (chain.chain, chain.moment, chain.joint),
                "BLANK1" if known else STATE_ICONS["not known"],
            )
    if figures.cases:
        column = layout.column(align=True)
        heads = (say("Leading action"), say("Tipping utilisation"), say("Sliding utilisation"))
        draw_row(column, context, heads, head=True)
        for case in figures.cases:
            draw_row(column, context, (case.name, case.tipping, case.sliding), STATE_ICONS[case.state])
    if figures.governing is not None:
        draw_governing(layout.column(align=True), context, figures.governing)
    column = layout.column(align=True)
    rows = (
        (say("Base force"), say("{force} down", force=figures.base_force)),
        (say("Base moment"), say("{moment} about x, y", moment=figures.base_moment)),
        (say("Datum"), figures.datum),
        (say("Nearest edge"), figures.edge),
        (say("Tips towards"), figures.towards),
        (say("Uncertainty of margin"), figures.margin_uncertainty),
    )
    for name, value in rows:
        write_pair(column, context, name, value)


def draw_governing(layout: bpy.types.UILayout, context: bpy.types.Context, found: Governing) -> None:
    """The design values that govern, and the factors in them: short lines, which a narrow sidebar does not cut off."""
    head = layout.row()
    head.active = False
    head.label(text=say("Governing design values (EQU)"))
    rows = [
        (say("Tipping"), found.tipping),
        (say("Edge"), found.edge),
        (say("Overturning"), say("{value}: weight × {factor}", value=found.overturns, factor=found.against)),
        (say("Stabilising"), say("{value}: weight × {factor}", value=found.holds, factor=found.holding)),
    ]
    if found.sliding:
        rows += [(say("Sliding"), found.sliding), (say("Along"), found.pushes)]
        rows.append((say("Down"), say("{value}: weight × {factor}", value=found.presses, factor=found.holding)))
    if found.leading:
        actions = say("leading × {leading}, others × {others}", leading=found.leading, others=found.others)
        rows.append((say("Actions"), actions))
    if found.resistance:
        rows.append((say("Friction"), say("and anchors ÷ {factor}", factor=found.resistance)))
    for name, value in rows:
        write_pair(layout, context, name, value, GOVERNING)


def draw_row(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    cells: Sequence[str],
    icon: str = "BLANK1",
    head: bool = False,
) -> None:
    """Three cells of a table, in a narrow sidebar the first above the others; heads are fainter."""
    row = layout.row()
    row.active = not head
    if is_narrow(context):
        column = row.column(align=True)
        column.label(text=cells[0], icon=icon)
        rest = column.row(align=True)
        rest.label(text=cells[1], icon="BLANK1")
        rest.label(text=cells[2])
        return
    split = row.split(factor=0.36, align=True)
    split.label(text=cells[0], icon=icon)
    rest = split.split(factor=0.46, align=True)
    for text in cells[1:]:
        rest.label(text=text)


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_balance,))
