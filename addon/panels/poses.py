"""The saved poses: a list to choose from, what can be done with one, and the chosen one's figures in full."""

from __future__ import annotations

import bpy

from ..bridge.figures import PoseFigures, current_problem, drawn_figures
from .figures import STATE_ICONS, draw_pose
from .tab import Tab, write_wrapped

BESIDE_PX = 56
"""Of the sidebar's width tabs and margins take so much from a row of the list."""

NAME_PX = 80
"""At least this is left for the name."""

LETTER_PX, AROUND_PX = 6.5, 20.0
"""What a letter of a label takes, and what Blender leaves free around it."""

MOUNTED = "GHOST_ENABLED"
"""Icon of a pose as mounted."""
MOST_MOVED = 10
"""So many elements that stood elsewhere are listed."""

HEADS = ("State", "Margin", "Out", "Mass", "Base moment")
"""Of the columns behind the name; the first three are always there."""

WIDE_PX = 560
"""From this width of the sidebar on a row has room for all of them."""


class COUNTERPOISE_UL_poses(bpy.types.UIList):
    """A pose in a row: name, state, margin, joints outside their bony range"""

    bl_idname = "COUNTERPOISE_UL_poses"

    def draw_item(
        self,
        context: bpy.types.Context,
        layout: bpy.types.UILayout,
        _data: object,
        item: bpy.types.PropertyGroup,
        _icon: int,
        _active_data: object,
        _active_property: str,
    ) -> None:
        figures = find_figures(context, item.name)
        layout.active = drawn_figures(context.scene)[2]
        cells = share_out(layout, context)
        icon = "TIME" if figures is None else MOUNTED if figures.moved is not None else STATE_ICONS[figures.state]
        cells[0].prop(item, "compared", text="")
        cells[0].prop(item, "shown_name", text="", emboss=False, icon=icon)
        texts = ("computing",) if figures is None else list_texts(figures)
        for cell, text in zip(cells[1:], texts, strict=False):
            cell.label(text=text)


def list_texts(figures: PoseFigures) -> tuple[str, ...]:
    """What stands behind the name, in the order of the heads."""
    return (figures.state, figures.margin, figures.outside_short, figures.mass, figures.base_moment)


def list_columns(context: bpy.types.Context) -> list[tuple[str, float]]:
    """Head and width of each column that the sidebar has room for: as wide as its longest text."""
    shown = HEADS if sidebar_width(context) >= WIDE_PX else HEADS[:3]
    rows = [shown, *(list_texts(figures) for figures in drawn_figures(context.scene)[1])]
    longest = [max(map(len, texts)) for texts in zip(*(row[: len(shown)] for row in rows), strict=True)]
    return [(head, AROUND_PX + LETTER_PX * letters) for head, letters in zip(shown, longest, strict=True)]


def share_out(layout: bpy.types.UILayout, context: bpy.types.Context) -> list[bpy.types.UILayout]:
    """The cells of a row: the name's, which takes what is left, then one for each column."""
    widths = [width for _, width in list_columns(context)]
    widths.insert(0, max(NAME_PX, sidebar_width(context) - BESIDE_PX - sum(widths)))
    cells, rest, left = [], layout.row(align=True), sum(widths)
    for width in widths[:-1]:
        split = rest.split(factor=width / left, align=True)
        cells.append(split.row(align=True))
        rest = split.row(align=True)
        left -= width
    return [*cells, rest]


def sidebar_width(context: bpy.types.Context) -> float:
    """In pixels of a screen that is not scaled."""
    return float(context.region.width / context.preferences.system.ui_scale)


class COUNTERPOISE_PT_poses(Tab, bpy.types.Panel):
    """The saved poses, side by side"""

    bl_idname = "COUNTERPOISE_PT_poses"
    bl_label = "Saved Poses"
    bl_parent_id = "COUNTERPOISE_PT_figures"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        if not settings.poses:
            broken = bool(current_problem(context.scene))
            write_wrapped(layout, context, "Not known." if broken else "None yet: save the live pose (step 3).", "INFO")
            return
        column = layout.column(align=True)
        draw_heads(column, context)
        column.template_list("COUNTERPOISE_UL_poses", "", settings, "poses", settings, "pose_index", rows=4, maxrows=12)
        checked = sum(row.compared for row in settings.poses)
        text = f"Side by Side: {checked}" if checked else "Side by Side"
        column.operator("counterpoise.compare_poses", text=text, icon="SPREADSHEET")
        if not 0 <= settings.pose_index < len(settings.poses):
            return
        name = settings.poses[settings.pose_index].name
        figures = find_figures(context, name)
        draw_actions(layout.column(align=True), settings, name, figures is not None and figures.moved is not None)
        if figures is not None:
            box = layout.box()
            box.active = drawn_figures(context.scene)[2]
            box.label(text=f"{name}: {figures.state}", icon=STATE_ICONS[figures.state])
            if figures.note:
                write_wrapped(box, context, figures.note, "TEXT")
            if figures.moved is not None:
                draw_moved(box, context, figures.moved)
            draw_pose(box, context, figures)


def draw_heads(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What stands in the columns of the list."""
    row = layout.row()
    row.scale_y = 0.8
    heads = ("Pose", *(head for head, _ in list_columns(context)))
    for cell, head in zip(share_out(row, context), heads, strict=True):
        cell.label(text=head)


def draw_moved(layout: bpy.types.UILayout, context: bpy.types.Context, moved: tuple[tuple[str, str], ...]) -> None:
    """Of a pose as mounted: which elements stood elsewhere, and by how much."""
    if not moved:
        write_wrapped(layout, context, "Every element stood where it stands at neutral.", "CHECKMARK")
        return
    column = layout.column(align=True)
    column.label(text=f"Stood elsewhere than at neutral: {len(moved)}", icon=MOUNTED)
    for element, text in moved[:MOST_MOVED]:
        split = column.split(factor=0.55, align=True)
        split.label(text=element, icon="BLANK1")
        split.label(text=text)
    if len(moved) > MOST_MOVED:
        column.label(text=f"and {len(moved) - MOST_MOVED} more", icon="BLANK1")


def draw_actions(layout: bpy.types.UILayout, settings: bpy.types.PropertyGroup, name: str, mounted: bool) -> None:
    """What is done with the pose selected; one as mounted cannot be taken up by a rig, but shown."""
    row = layout.row(align=True)
    if mounted:
        row.prop(settings.overlays, "mounted", text="Show in View", icon=MOUNTED, toggle=True)
    else:
        row.operator("counterpoise.restore_pose", text="Restore").name = name
        over = row.operator("counterpoise.save_pose", text="Save Over")
        over.name, over.overwrite = name, True
    row.operator("counterpoise.note_pose", text="Note").name = name
    row = layout.row(align=True)
    row.operator("counterpoise.duplicate_pose", text="Duplicate").name = name
    row.operator("counterpoise.delete_pose", text="Delete").name = name
    for places, icon in ((-1, "TRIA_UP"), (1, "TRIA_DOWN")):
        move = row.operator("counterpoise.move_pose", text="", icon=icon)
        move.name, move.places = name, places


def find_figures(context: bpy.types.Context, name: str) -> PoseFigures | None:
    """What was computed for a saved pose, the last time where it is being computed anew; None where it never was."""
    return next((figures for figures in drawn_figures(context.scene)[1] if figures.pose == name), None)


CLASSES = (COUNTERPOISE_UL_poses, COUNTERPOISE_PT_poses)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
