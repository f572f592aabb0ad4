"""The orientation audit: what stands wrong first, then what is undecided, then what stands as placed."""

from __future__ import annotations

import bpy

from ..bridge.audit import AuditFigures, VerdictFigure, drawn_audit, shown_in_full
from ..translations.phrases import say, tell
from .tab import Tab, show_page, write_wrapped

DECISION_ICONS = {"wrong": "ERROR", "undecided": "QUESTION", "as placed": "CHECKMARK"}
NOT_YET = "Not audited yet. Every element is tried turned, mirrored and in others' places, on the scans."
SIZE = "s is the element's own size, the cube root of its volume; s² is an area in that measure."
NAMES = 0.62
"""Share of a row's width that names take."""
WAYS = 0.8
"""The same of ways, beside their score."""


class COUNTERPOISE_PT_audit(Tab, bpy.types.Panel):
    """Which elements stand turned about, mirrored, or in each other's place, on what evidence"""

    bl_idname = "COUNTERPOISE_PT_audit"
    bl_label = "Orientation Audit"
    bl_parent_id = "COUNTERPOISE_PT_skeleton"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        told = drawn_audit(context.scene)
        if told is not None and told.wrong:
            self.layout.label(text=say("{count} wrong", count=len(told.wrong)), icon=DECISION_ICONS["wrong"])
        show_page(self)

    def draw(self, context: bpy.types.Context) -> None:
        layout, told = self.layout, drawn_audit(context.scene)
        layout.operator("counterpoise.audit_orientation", icon="ORIENTATION_GIMBAL")
        if told is None:
            write_wrapped(layout, context, NOT_YET, "INFO")
            return
        if told.dropped:
            one = say("1 verdict rests on what was changed since: audit again.")
            many = say("{count} verdicts rest on what was changed since: audit again.", count=told.dropped)
            write_wrapped(layout, context, one if told.dropped == 1 else many, "INFO")
        if told.wrong:
            draw_verdicts(layout, context, told.wrong)
        else:
            layout.label(text="None is wrong", icon=DECISION_ICONS["as placed"])
        draw_rest(layout, context, told)


def draw_rest(layout: bpy.types.UILayout, context: bpy.types.Context, told: AuditFigures) -> None:
    """What is undecided, what stands as placed, what could not be tried: each folded away under its count."""
    for name, title, verdicts in (
        ("counterpoise_undecided", say("Undecided"), told.undecided),
        ("counterpoise_as_placed", say("As placed"), told.as_placed),
    ):
        if not verdicts:
            layout.label(text=say("{title}: none", title=title))
            continue
        header, body = layout.panel(name, default_closed=True)
        header.label(text=say("{title}: {count}", title=title, count=len(verdicts)))
        if body is not None:
            draw_verdicts(body, context, verdicts)
    if told.left_out:
        header, body = layout.panel("counterpoise_not_tried", default_closed=True)
        header.label(text=say("Not tried: {count}", count=len(told.left_out)))
        for element, why in told.left_out if body is not None else ():
            write_wrapped(body, context, f"{element}: {tell(why)}", "BLANK1")


def draw_verdicts(layout: bpy.types.UILayout, context: bpy.types.Context, verdicts: tuple[VerdictFigure, ...]) -> None:
    """A row each; a click selects the elements and opens the verdict below its row."""
    active = shown_in_full(context.scene)
    column = layout.column(align=True)
    for verdict in verdicts:
        split = column.split(factor=NAMES, align=True)
        name = split.row(align=True)
        name.alignment = "LEFT"
        icon = DECISION_ICONS[verdict.decision]
        name.operator("counterpoise.show_verdict", text=verdict.title, icon=icon, emboss=False).number = verdict.number
        split.label(text=tell(verdict.fault if verdict.decision == "wrong" else verdict.best))
        if verdict.number == active:
            draw_verdict(column.box(), context, verdict)


def draw_verdict(layout: bpy.types.UILayout, context: bpy.types.Context, verdict: VerdictFigure) -> None:
    """What is said, the ways tried with their figures, and the way out."""
    write_wrapped(layout, context, verdict.what)
    ways = layout.column(align=True)
    for number, (way, score) in enumerate(verdict.ways, start=1):
        split = ways.split(factor=WAYS, align=True)
        split.label(text=f"{number}  {tell(way)}")
        split.label(text=score)
    table = layout.column(align=True)
    table.scale_y = 0.8
    for name, values in (("", tuple(f"({k})" for k in range(1, len(verdict.ways) + 1))), *verdict.table):
        if name:
            head = table.row()
            head.active = False
            head.label(text=tell(name))
        row = table.row(align=True)
        for value in values:
            row.label(text=value)
    if any("[s" in name for name, _ in verdict.table):
        note = layout.column()
        note.active = False
        write_wrapped(note, context, SIZE)
    if verdict.decision == "wrong":
        layout.operator("counterpoise.put_right", icon="FILE_REFRESH").number = verdict.number
    if verdict.choices:
        unknown = say("It cannot be told from the scans. If you know better, choose, with a reason:")
        right = say("By its shape it stands right. If you know better, choose, with a reason:")
        write_wrapped(layout, context, unknown if verdict.decision == "undecided" else right, "INFO")
    for way in verdict.choices:
        chosen = layout.operator(
            "counterpoise.put_right", text=say("Put Right: {way}", way=tell(way)), icon="FILE_REFRESH"
        )
        chosen.number, chosen.way = verdict.number, way


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_audit,))
