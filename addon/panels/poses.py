"""The saved poses: a list to choose from, what can be done with one, and the chosen one's figures in full."""

from __future__ import annotations

import bpy

from ..bridge.figures import PoseFigures, current_problem, saved_figures
from .figures import STATE_ICONS, draw_pose
from .tab import Tab, write_wrapped

WIDE_PX = 480
"""From this width of the sidebar on a row has room for mass and base moment as well."""

NAME, STATE, MARGIN, BEYOND = 0.36, 0.32, 0.19, 0.13
"""Shares of a row's width."""


class COUNTERPOISE_UL_poses(bpy.types.UIList):
    """A pose in a row: name, state, margin, joints beyond their limits"""

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
        cells = share_out(layout, context)
        cells[0].prop(item, "shown_name", text="", emboss=False)
        if figures is None:
            cells[1].label(text="being computed", icon="TIME")
            return
        cells[1].label(text=figures.state, icon=STATE_ICONS[figures.state])
        for cell, text in zip(cells[2:], list_texts(figures), strict=False):
            cell.label(text=text)


def share_out(layout: bpy.types.UILayout, context: bpy.types.Context) -> list[bpy.types.UILayout]:
    """The cells of a row: four in a narrow sidebar, six in a wide one."""
    wide = context.region.width / context.preferences.system.ui_scale >= WIDE_PX
    shares = (0.22, 0.17, 0.11, 0.08, 0.19, 0.23) if wide else (NAME, STATE, MARGIN, BEYOND)
    cells, rest, left = [], layout.row(align=True), 1.0
    for share in shares[:-1]:
        rest = rest.split(factor=share / left, align=True)
        cells.append(rest.row(align=True))
        left -= share
        rest = rest.row(align=True)
    return [*cells, rest]


def list_texts(figures: PoseFigures) -> tuple[str, ...]:
    """What stands behind name and state, in the order of the heads."""
    return (figures.margin, figures.beyond_short, figures.mass, figures.base_moment)


HEADS = ("Pose", "State", "Margin", "Beyond", "Mass", "Base moment")


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
        draw_heads(layout, context)
        row = layout.row()
        row.template_list("COUNTERPOISE_UL_poses", "", settings, "poses", settings, "pose_index", rows=5, maxrows=12)
        if not 0 <= settings.pose_index < len(settings.poses):
            return
        name = settings.poses[settings.pose_index].name
        draw_side(row.column(align=True), name)
        draw_actions(layout, name)
        figures = find_figures(context, name)
        if figures is not None:
            box = layout.box()
            box.label(text=f"{name}: {figures.state}", icon=STATE_ICONS[figures.state])
            if figures.note:
                write_wrapped(box, context, figures.note, "TEXT")
            draw_pose(box, context, figures)


def draw_heads(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What stands in the columns of the list."""
    row = layout.row()
    row.scale_y = 0.7
    for cell, head in zip(share_out(row.row(), context), HEADS, strict=False):
        cell.label(text=head)
    row.label(text="", icon="BLANK1")


def draw_side(column: bpy.types.UILayout, name: str) -> None:
    """Beside the list: what changes the list."""
    column.operator("counterpoise.duplicate_pose", text="", icon="DUPLICATE").name = name
    column.operator("counterpoise.delete_pose", text="", icon="TRASH").name = name
    column.separator()
    for places, icon in ((-1, "TRIA_UP"), (1, "TRIA_DOWN")):
        move = column.operator("counterpoise.move_pose", text="", icon=icon)
        move.name, move.places = name, places


def draw_actions(layout: bpy.types.UILayout, name: str) -> None:
    """Below the list: what is done with the pose selected."""
    row = layout.row(align=True)
    row.operator("counterpoise.restore_pose", text="Restore", icon="LOOP_BACK").name = name
    over = row.operator("counterpoise.save_pose", text="Save Over", icon="FILE_TICK")
    over.name, over.overwrite = name, True
    row.operator("counterpoise.note_pose", text="Note", icon="TEXT").name = name


def find_figures(context: bpy.types.Context, name: str) -> PoseFigures | None:
    """What was computed for a saved pose; None where it has not been yet."""
    return next((figures for figures in saved_figures(context.scene) if figures.pose == name), None)


CLASSES = (COUNTERPOISE_UL_poses, COUNTERPOISE_PT_poses)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
