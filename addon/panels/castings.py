"""How everything is cast and what it weighs: a list of the whole, the series and the elements."""

from __future__ import annotations

import bpy

from ..bridge.castings import CastingWords, drawn_castings
from ..translations.phrases import capitalise, look_up, say, tell
from .tab import Tab, write_wrapped

LEVEL_ICONS = {"ALL": "OUTLINER_OB_ARMATURE", "SERIES": "GROUP_BONE", "ELEMENT": "BONE_DATA"}
SHARES = (0.5, 0.28, 0.22)
"""Of a row's width for name, casting, mass."""


class COUNTERPOISE_UL_castings(bpy.types.UIList):
    """The whole, a series or an element a row: how it is cast, what it weighs"""

    bl_idname = "COUNTERPOISE_UL_castings"

    def draw_item(
        self,
        context: bpy.types.Context,
        layout: bpy.types.UILayout,
        _settings: object,
        item: bpy.types.PropertyGroup,
        _icon: int,
        _active_data: object,
        _active_property: str,
    ) -> None:
        words = drawn_castings(context.scene).rows.get((item.level, item.name))
        name, cast, mass = split_row(layout)
        if item.level == "ELEMENT":
            name.label(text="", icon="BLANK1")
        name.label(text=item.name, icon=LEVEL_ICONS[item.level])
        if words is None:
            cast.label(text=tell("not known"))
            return
        cast.active = words.own  # what goes by the rest is greyed
        cast.label(text=look_up("weighed") if words.weighed and item.level == "ELEMENT" else tell(words.cast))
        mass.label(text=words.mass)

    def filter_items(
        self, _context: bpy.types.Context, settings: bpy.types.PropertyGroup, collection: str
    ) -> tuple[list[int], list[int]]:
        rows = getattr(settings, collection)
        shown = [self.bitflag_filter_item] * len(rows)
        if self.filter_name:
            shown = bpy.types.UI_UL_list.filter_items_by_name(
                self.filter_name, self.bitflag_filter_item, rows, "name", reverse=self.use_filter_sort_reverse
            )
        if not settings.casting_elements:
            shown = [flag if row.level != "ELEMENT" else 0 for flag, row in zip(shown, rows, strict=True)]
        return shown, []


def split_row(layout: bpy.types.UILayout) -> list[bpy.types.UILayout]:
    """The cells of a row: name, casting, mass."""
    left, rest, cells = 1.0, layout.row(align=True), []
    for share in SHARES[:-1]:
        rest = rest.split(factor=share / left, align=True)
        cells.append(rest.row(align=True))
        rest, left = rest.row(align=True), left - share
    return [*cells, rest]


class COUNTERPOISE_PT_castings(Tab, bpy.types.Panel):
    """How the elements are cast"""

    bl_idname = "COUNTERPOISE_PT_castings"
    bl_label = "4  Castings"
    bl_order = 3
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        castings = drawn_castings(context.scene)
        if castings.problem:
            write_wrapped(layout, context, say("Not known. {problem}", problem=castings.problem), "QUESTION")
        layout.prop(settings, "casting_elements")
        column = layout.column(align=True)
        draw_heads(column, castings.unit)
        column.template_list(
            COUNTERPOISE_UL_castings.bl_idname, "", settings, "castings", settings, "casting_index", rows=5, maxrows=14
        )
        if 0 <= settings.casting_index < len(settings.castings):
            row = settings.castings[settings.casting_index]
            words = castings.rows.get((row.level, row.name))
            draw_actions(column, row, words)
            if words is not None:
                draw_words(layout, context, row, words)
        write_wrapped(layout, context, castings.alloy, "MATERIAL")
        layout.operator("counterpoise.set_alloy", text="Set Alloy and Scale")


def draw_heads(layout: bpy.types.UILayout, unit: str) -> None:
    """What stands in the columns of the list."""
    row = layout.row()
    row.scale_y = 0.8
    for cell, head in zip(split_row(row), (say("Element"), say("Wall"), unit), strict=True):
        cell.label(text=head)


def draw_actions(layout: bpy.types.UILayout, row: bpy.types.PropertyGroup, words: CastingWords | None) -> None:
    """What is done with the row selected."""
    line = layout.row(align=True)
    cast = line.operator("counterpoise.cast")
    cast.level, cast.name = row.level, row.name
    if row.level == "ALL":
        return
    rest = line.row(align=True)
    rest.enabled = words is not None and words.own
    again = rest.operator("counterpoise.cast", text="As the Rest")
    again.level, again.name, again.kind = row.level, row.name, "AS_REST"
    if row.level == "ELEMENT":
        line = layout.row(align=True)
        weigh = line.operator("counterpoise.weigh")
        weigh.level, weigh.name = row.level, row.name
        forget = line.row(align=True)
        forget.enabled = words is not None and words.weighed
        dropped = forget.operator("counterpoise.forget_weighing")
        dropped.level, dropped.name = row.level, row.name


def draw_words(
    layout: bpy.types.UILayout, context: bpy.types.Context, row: bpy.types.PropertyGroup, words: CastingWords
) -> None:
    """The row selected in full."""
    box = layout.box()
    box.label(text=f"{row.name}: {words.lines[0]}", icon=LEVEL_ICONS[row.level])
    if row.level != "ALL" and not words.own:
        write_wrapped(box, context, say("As the rest: {casting}", casting=words.lines[1]))
    else:
        write_wrapped(box, context, capitalise(words.lines[1]))
    for line in words.lines[2:]:
        write_wrapped(box, context, line)


class COUNTERPOISE_PT_parts(Tab, bpy.types.Panel):
    """What weighs besides the castings"""

    bl_idname = "COUNTERPOISE_PT_parts"
    bl_label = "Discs and Steelwork"
    bl_parent_id = "COUNTERPOISE_PT_castings"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        castings = drawn_castings(context.scene)
        for part in castings.parts:
            row = layout.row()
            write_wrapped(row, context, part.line)
            if part.name:
                row.operator("counterpoise.remove_steelwork", text="", icon="TRASH").name = part.name
        if not castings.parts:
            none = "None: the figures are of the castings alone."
            write_wrapped(layout, context, "Not known." if castings.problem else none, "INFO")
        column = layout.column(align=True)
        row = column.row(align=True)
        discs, gone = row.operator("counterpoise.set_discs"), row.operator("counterpoise.remove_discs")
        if 0 <= settings.casting_index < len(settings.castings):
            selected = settings.castings[settings.casting_index]
            for operator in (discs, gone):
                operator.level, operator.name = selected.level, selected.name
        column.operator("counterpoise.lay_steelwork")


CLASSES = (COUNTERPOISE_UL_castings, COUNTERPOISE_PT_castings, COUNTERPOISE_PT_parts)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
