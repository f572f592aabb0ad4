"""Rows of the list of poses: they mirror the document, which owns the poses."""

from __future__ import annotations

import bpy

from .overlays import redraw_views


def read_name(row: CounterpoisePoseRow) -> str:
    """The name as the document has it."""
    return row.name


def rename_row(row: CounterpoisePoseRow, name: str) -> None:
    """Rename the row's pose in the document; where that is refused the row keeps its name and the reason is told."""
    if name == row.name:
        return
    try:
        with bpy.context.temp_override(scene=row.id_data):
            bpy.ops.counterpoise.rename_pose(name=row.name, new_name=name)
    except RuntimeError as error:
        tell_refusal(str(error).removeprefix("Error: ").strip())


def tell_refusal(reason: str) -> None:
    """In a pop-up; in the console where there is no window."""
    print(f"Counterpoise: {reason}")
    if bpy.context.window is not None and not bpy.app.background:
        bpy.context.window_manager.popup_menu(
            lambda menu, _context: menu.layout.label(text=reason), title="Not renamed", icon="ERROR"
        )


class CounterpoisePoseRow(bpy.types.PropertyGroup):
    """One row; a new name goes to the document, and comes back from there if it is taken."""

    name: bpy.props.StringProperty(name="Pose")
    compared: bpy.props.BoolProperty(
        name="Compare", description="Put this pose beside the others that are checked", default=False
    )
    ghost: bpy.props.BoolProperty(
        name="Ghost",
        description="Show this pose over the view: see-through, in a colour of its own, with its name at the head",
        default=False,
        update=redraw_views,
    )
    shown_name: bpy.props.StringProperty(
        name="Pose",
        description="Name of the pose; double-click to rename it",
        get=read_name,
        set=rename_row,
    )


SORTINGS = [
    ("OWN", "Own Order", "As the skeleton document keeps them: move them up and down"),
    ("NAME", "Name", "By name; numbers in it count as numbers"),
    ("STATE", "State", "By the state of the worst check: what holds first"),
    ("MARGIN", "Margin", "By the margin against tipping: the greatest first"),
    ("TIP", "Tip Angle", "By the least angle at which it tips: the greatest first"),
    ("MASS", "Mass", "By mass: the lightest first"),
]


class CounterpoisePoseList(bpy.types.PropertyGroup):
    """How the list of poses is shown; the poses themselves stay in their own order."""

    sort: bpy.props.EnumProperty(
        name="Sort", description="What the list is sorted by; the document keeps its own order", items=SORTINGS
    )
    reverse: bpy.props.BoolProperty(name="Reverse", description="The other way round", default=False)
    pictures: bpy.props.BoolProperty(
        name="Pictures", description="Show every pose of the list as a picture, seen from the right", default=True
    )


register, unregister = bpy.utils.register_classes_factory((CounterpoisePoseRow, CounterpoisePoseList))
