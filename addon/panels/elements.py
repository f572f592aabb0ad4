"""The element table as a list, the selected element below it, and what is to be looked at."""

from __future__ import annotations

import bpy

from ..translations.catalogues import CORE
from ..translations.phrases import capitalise, find_translation, say, tell
from .tab import Tab, show_page, write_wrapped

CLOSED = "closed"
WIDE = 430
"""From this width of the sidebar on [px at a scale of 1] the list has all columns."""
PROBLEM_ICONS = {
    **dict.fromkeys(("mesh", "shape"), "MESH_DATA"),
    **dict.fromkeys(("position", "count"), "LINENUMBERS_ON"),
    **dict.fromkeys(("partner", "side"), "MOD_MIRROR"),
    **dict.fromkeys(("unit", "size"), "DRIVER_DISTANCE"),
    **dict.fromkeys(("place", "gap", "order"), "EMPTY_ARROWS"),
    **{"file": "FILE", "orientation": "ORIENTATION_GIMBAL", "origin": "LINKED", "table": "SPREADSHEET"},
}


class COUNTERPOISE_UL_elements(bpy.types.UIList):
    """One element a row"""

    bl_idname = "COUNTERPOISE_UL_elements"

    def draw_item(
        self,
        context: bpy.types.Context,
        layout: bpy.types.UILayout,
        _settings: object,
        element: bpy.types.PropertyGroup,
        _icon: int,
        _active_data: object,
        _active_property: str,
    ) -> None:
        row = layout.row(align=True)
        row.active = element.attachment != "left out"
        mesh = element.mesh.split(",")[0].split(".")[0].split(";")[0].split(":")[0]
        cells = [
            (0.4, element.name),
            (0.27, f"{name_choice(element, 'series')} {element.position or ''}"),
            (0.33, tell(mesh or "not known")),
        ]
        if context.region.width > WIDE * context.preferences.system.ui_scale:
            followed = ", ".join(name for name in (element.parent, element.also) if name)
            attachment = name_choice(element, "attachment")
            hanging = f"{attachment}: {followed}" if followed else attachment
            cells = [
                (0.24, cells[0][1]),
                (0.18, cells[1][1]),
                (0.11, name_choice(element, "side")),
                (0.27, hanging),
                (0.2, cells[2][1]),
            ]
        left = 1.0
        icon = row_icon(element)
        for share, text in cells:
            row = row.split(factor=share / left, align=True) if share < left - 1e-6 else row
            row.label(text=text, icon=icon)
            left, icon = left - share, "NONE"

    def filter_items(
        self, _context: bpy.types.Context, settings: bpy.types.PropertyGroup, collection: str
    ) -> tuple[list[int], list[int]]:
        elements = getattr(settings, collection)
        shown = [self.bitflag_filter_item] * len(elements)
        if self.filter_name:
            shown = bpy.types.UI_UL_list.filter_items_by_name(
                self.filter_name, self.bitflag_filter_item, elements, "name", reverse=self.use_filter_sort_reverse
            )
        if settings.problems_only:
            shown = [flag if element.problem else 0 for flag, element in zip(shown, elements, strict=True)]
        return shown, []


class COUNTERPOISE_UL_problems(bpy.types.UIList):
    """One problem a row; a click goes to its element"""

    bl_idname = "COUNTERPOISE_UL_problems"

    def draw_item(
        self,
        _context: bpy.types.Context,
        layout: bpy.types.UILayout,
        _settings: object,
        problem: bpy.types.PropertyGroup,
        _icon: int,
        _active_data: object,
        _active_property: str,
    ) -> None:
        layout.label(text=tell(problem.name), icon=PROBLEM_ICONS.get(problem.kind, "ERROR"))


class COUNTERPOISE_PT_elements(Tab, bpy.types.Panel):
    """The element table"""

    bl_idname = "COUNTERPOISE_PT_elements"
    bl_label = "Elements"
    bl_parent_id = "COUNTERPOISE_PT_scans"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        settings = context.scene.counterpoise
        return bool(settings.elements or settings.table_path)

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        if count := len(context.scene.counterpoise.elements):
            self.layout.label(text=say("{count} rows", count=count))
        show_page(self)

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        if not settings.elements:
            layout.operator("counterpoise.read_table", icon="IMPORT").table_path = settings.table_path
            return
        layout.prop(settings, "problems_only")
        layout.template_list(
            COUNTERPOISE_UL_elements.bl_idname, "", settings, "elements", settings, "element_index", rows=6
        )
        if settings.element_index < len(settings.elements):
            _draw_element(layout, context, settings, settings.elements[settings.element_index])
        row = layout.row(align=True)
        row.operator("counterpoise.write_table", icon="FILE_TICK").table_path = settings.table_path
        row.operator("counterpoise.read_table", text="", icon="FILE_REFRESH").table_path = settings.table_path
        again = row.operator("counterpoise.survey_folder", text="", icon="FILE_NEW")
        again.folder, again.unit, again.table_path = settings.mesh_folder, settings.unit, settings.table_path
        again.expected = settings.expected
        again.propose_anew = True
        if settings.table_edited:
            write_wrapped(layout, context, "Edits here are not in the table yet.", "INFO")


def _draw_element(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    settings: bpy.types.PropertyGroup,
    element: bpy.types.PropertyGroup,
) -> None:
    box = layout.box()
    fields = box.column()
    fields.use_property_split = True
    fields.use_property_decorate = False
    for name in ("name", "series", "position", "side", "attachment"):
        fields.prop(element, name)
    if element.attachment not in ("root", "left out"):
        fields.prop_search(element, "parent", settings, "elements", icon="BONE_DATA")
    if element.attachment == "fixed":
        fields.prop_search(element, "also", settings, "elements", icon="BONE_DATA")
    if element.attachment in ("fixed", "left out"):
        fields.prop(element, "reason")
    fields.prop(element, "origin")
    where = {"file": element.file, "unit": element.unit}
    body = say("{file}, body {number}, {unit}", number=element.body, **where)
    write_wrapped(box, context, body if element.body else f"{element.file}, {element.unit}", "FILE")
    write_wrapped(box, context, element.mesh or "Mesh not known: survey the scans.", mesh_icon(element))
    for problem in element.problem.splitlines():
        if problem != element.mesh:
            write_wrapped(box, context, problem, "ERROR")
    if settings.document is not None:
        box.operator("counterpoise.select_element", icon="ZOOM_SELECTED").element = element.name


def name_choice(element: bpy.types.PropertyGroup, name: str) -> str:
    """What is chosen of a menu, as the table has it; in another language as the menu has it."""
    chosen = str(getattr(element, name))
    label = element.bl_rna.properties[name].enum_items[chosen].name
    shown = find_translation(label, CORE)
    return chosen if shown == label else shown.lower()


def mesh_icon(element: bpy.types.PropertyGroup) -> str:
    """The icon beside the words for a mesh's state."""
    return "CHECKMARK" if element.mesh == CLOSED else "ERROR" if element.mesh else "QUESTION"


def row_icon(element: bpy.types.PropertyGroup) -> str:
    """The icon of a row: left out, something to look at, or the state of its mesh."""
    if element.attachment == "left out":
        return "REMOVE"
    return "ERROR" if element.problem else mesh_icon(element)


class COUNTERPOISE_PT_problems(Tab, bpy.types.Panel):
    """What is to be looked at before the skeleton is built"""

    bl_idname = "COUNTERPOISE_PT_problems"
    bl_label = "Problems"
    bl_parent_id = "COUNTERPOISE_PT_scans"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return bool(context.scene.counterpoise.elements)

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        self.layout.label(text=str(len(context.scene.counterpoise.problems)))
        show_page(self)

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        if not settings.problems:
            layout.label(text="None found", icon="CHECKMARK")
            return
        layout.template_list(
            COUNTERPOISE_UL_problems.bl_idname, "", settings, "problems", settings, "problem_index", rows=4
        )
        if 0 <= settings.problem_index < len(settings.problems):
            problem = settings.problems[settings.problem_index]
            write_wrapped(layout, context, problem.name)
            if problem.remedy:
                write_wrapped(layout, context, f"{capitalise(tell(problem.remedy))}.", "INFO")


CLASSES = (COUNTERPOISE_UL_elements, COUNTERPOISE_UL_problems, COUNTERPOISE_PT_elements, COUNTERPOISE_PT_problems)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
