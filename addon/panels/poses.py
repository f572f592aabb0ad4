"""The saved poses: a list to choose from, what can be done with one, and the chosen one's figures in full."""

from __future__ import annotations

import bpy

from ..bridge.figures import PoseFigures, drawn_figures, is_unreadable
from ..bridge.ghosts import MOST as MOST_GHOSTS
from ..bridge.ghosts import count_ghosted
from ..bridge.pose_order import is_own_order, order_rows
from ..bridge.thumbnails import find_thumbnail
from ..translations.phrases import say, tell
from .figures import STATE_ICONS, draw_pose
from .tab import Tab, is_narrow, write_wrapped

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

FEW, FIRST, EVERY = slice(1, 2), slice(0, 3), slice(None)
"""Which columns behind the name a narrow sidebar has room for, a usual one, a wide one; the icon has the state too."""

WIDE_PX = 560
"""From this width of the sidebar on a row has room for all of them."""

PICTURE_PX, PICTURE_SCALE = 118, 5.2
"""Least width of a picture in the grid, and its size in heights of a button."""

GHOST_PX = 22.0
"""Width of the last column of the list, which shows a pose as a ghost."""

LARGE_SCALE = 8.0
"""Size of the picture of the pose selected."""


class COUNTERPOISE_UL_poses(bpy.types.UIList):
    """A pose in a row: name, state, margin, joints outside their bony range"""

    bl_idname = "COUNTERPOISE_UL_poses"

    def draw_filter(self, _context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
        """By name alone: how the list is sorted stands above it."""
        row = layout.row(align=True)
        row.prop(self, "filter_name", text="")
        row.prop(self, "use_filter_invert", text="", icon="ARROW_LEFTRIGHT")

    def filter_items(
        self, context: bpy.types.Context, data: bpy.types.PropertyGroup, property_name: str
    ) -> tuple[list[int], list[int]]:
        """Which rows are shown, and where each stands."""
        rows = getattr(data, property_name)
        shown: list[int] = []
        if self.filter_name:
            shown = bpy.types.UI_UL_list.filter_items_by_name(
                self.filter_name, self.bitflag_filter_item, rows, "name", reverse=False
            )
        if is_own_order(context.scene):
            return shown, []
        places = {row: place for place, row in enumerate(order_rows(context.scene))}
        return shown, [places[i] for i in range(len(rows))]

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
        texts = (say("computing"),) if figures is None else list_texts(figures)[pick_columns(context)]
        for cell, text in zip(cells[1:-1], texts, strict=False):
            cell.label(text=text)
        cells[-1].prop(item, "ghost", text="", emboss=False, icon="HIDE_OFF" if item.ghost else "HIDE_ON")


def list_texts(figures: PoseFigures) -> tuple[str, ...]:
    """What stands behind the name, in the order of the heads."""
    return (tell(figures.state), figures.margin, figures.outside_short, figures.mass, figures.base_moment)


def list_columns(context: bpy.types.Context) -> list[tuple[str, float]]:
    """Head and width of each column that the sidebar has room for: as wide as its longest text; the last of ghosts."""
    heads = (say("State"), say("Margin"), say("Outside"), say("Mass"), say("Base moment"))
    shown = heads[pick_columns(context)]
    known = drawn_figures(context.scene)[1]
    rows = [shown, *(list_texts(figures)[pick_columns(context)] for figures in known)]
    if len(known) < len(context.scene.counterpoise.poses):
        rows.append((say("computing"), *("" for _ in shown[1:])))
    longest = [max(map(len, texts)) for texts in zip(*rows, strict=True)]
    columns = [(head, AROUND_PX + LETTER_PX * letters) for head, letters in zip(shown, longest, strict=True)]
    return [*columns, ("", GHOST_PX)]


def pick_columns(context: bpy.types.Context) -> slice:
    """Which columns behind the name the sidebar has room for."""
    return FEW if is_narrow(context) else EVERY if sidebar_width(context) >= WIDE_PX else FIRST


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
            broken = is_unreadable(context.scene)
            write_wrapped(layout, context, "Not known." if broken else "None yet: save the live pose (step 3).", "INFO")
            return
        draw_sorting(layout, settings)
        column = layout.column(align=True)
        draw_heads(column, context)
        column.template_list("COUNTERPOISE_UL_poses", "", settings, "poses", settings, "pose_index", rows=4, maxrows=12)
        checked = sum(row.compared for row in settings.poses)
        text = say("Side by Side: {count}", count=checked) if checked else "Side by Side"
        column.operator("counterpoise.compare_poses", text=text, icon="SPREADSHEET")
        column.operator("counterpoise.write_poses_page", icon="FILE")
        row = column.row(align=True)
        row.operator("counterpoise.poses_to_keyframes", icon="KEYFRAME_HLT")
        row.operator("counterpoise.remove_pose_keyframes", text="", icon="X")
        if count_ghosted(context.scene) > MOST_GHOSTS:
            write_wrapped(
                layout, context, say("Ghosts of the first {count} poses are shown, no more.", count=MOST_GHOSTS), "INFO"
            )
        draw_pictures(layout, context)
        if not 0 <= settings.pose_index < len(settings.poses):
            return
        name = settings.poses[settings.pose_index].name
        figures = find_figures(context, name)
        mounted = figures is not None and figures.moved is not None
        draw_actions(layout.column(align=True), settings, name, mounted, is_own_order(context.scene))
        if figures is not None:
            box = layout.box()
            box.active = drawn_figures(context.scene)[2]
            thumbnail = find_thumbnail(context.scene, name)
            if thumbnail and not settings.pose_list.pictures:
                box.template_icon(thumbnail, scale=LARGE_SCALE)
            box.label(text=f"{name}: {tell(figures.state)}", icon=STATE_ICONS[figures.state])
            if figures.note:
                write_wrapped(box, context, figures.note, "TEXT")
            if figures.moved is not None:
                draw_moved(box, context, figures.moved)
            draw_pose(box, context, figures)


def draw_sorting(layout: bpy.types.UILayout, settings: bpy.types.PropertyGroup) -> None:
    """What the list is sorted by, whether it shows pictures, and how an order is kept."""
    row = layout.row(align=True)
    row.prop(settings.pose_list, "sort", text="")
    row.prop(settings.pose_list, "reverse", text="", icon="SORT_DESC" if settings.pose_list.reverse else "SORT_ASC")
    row.operator("counterpoise.keep_pose_order", text="", icon="PINNED")
    row.separator()
    row.prop(settings.pose_list, "pictures", text="", icon="IMGDISPLAY")


def draw_pictures(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """A picture of every pose, in the order of the list; the name below chooses it."""
    settings = context.scene.counterpoise
    if not settings.pose_list.pictures:
        return
    columns = max(1, int((sidebar_width(context) - BESIDE_PX) / PICTURE_PX))
    grid = layout.grid_flow(row_major=True, columns=columns, even_columns=True, even_rows=True)
    for i in order_rows(context.scene):
        pose = settings.poses[i]
        figures = find_figures(context, pose.name)
        cell = grid.column(align=True)
        thumbnail = find_thumbnail(context.scene, pose.name)
        if thumbnail:
            cell.template_icon(thumbnail, scale=PICTURE_SCALE)
        row = cell.row(align=True)
        row.prop(pose, "compared", text="")
        icon = "TIME" if figures is None else STATE_ICONS[figures.state]
        chosen = row.operator(
            "counterpoise.select_pose", text=pose.name, icon=icon, depress=i == settings.pose_index, translate=False
        )
        chosen.name = pose.name


def draw_heads(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What stands in the columns of the list."""
    row = layout.row()
    row.scale_y = 0.8
    heads = (say("Pose"), *(head for head, _ in list_columns(context)))
    for cell, head in zip(share_out(row, context), heads, strict=True):
        cell.label(text=head)


def draw_moved(layout: bpy.types.UILayout, context: bpy.types.Context, moved: tuple[tuple[str, str], ...]) -> None:
    """Of a pose as mounted: which elements stood elsewhere, and by how much."""
    if not moved:
        write_wrapped(layout, context, "Every element stood where it stands at neutral.", "CHECKMARK")
        return
    column = layout.column(align=True)
    column.label(text=say("Stood elsewhere than at neutral: {count}", count=len(moved)), icon=MOUNTED)
    for element, text in moved[:MOST_MOVED]:
        split = column.split(factor=0.55, align=True)
        split.label(text=element, icon="BLANK1")
        split.label(text=text)
    if len(moved) > MOST_MOVED:
        column.label(text=say("and {count} more", count=len(moved) - MOST_MOVED), icon="BLANK1")


def draw_actions(
    layout: bpy.types.UILayout, settings: bpy.types.PropertyGroup, name: str, mounted: bool, own_order: bool
) -> None:
    """What is done with the pose selected; one as mounted cannot be taken up by a rig, but shown.

    own_order : the list shows the poses as they are kept: they can be moved
    """
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
    moves = row.row(align=True)
    moves.enabled = own_order
    for places, icon in ((-1, "TRIA_UP"), (1, "TRIA_DOWN")):
        move = moves.operator("counterpoise.move_pose", text="", icon=icon)
        move.name, move.places = name, places


def find_figures(context: bpy.types.Context, name: str) -> PoseFigures | None:
    """What was computed for a saved pose, the last time where it is being computed anew; None where it never was."""
    return next((figures for figures in drawn_figures(context.scene)[1] if figures.pose == name), None)


CLASSES = (COUNTERPOISE_UL_poses, COUNTERPOISE_PT_poses)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
