"""The list of elements: read from the table, written to it, and its elements looked for in the view."""

from __future__ import annotations

import bpy

from ..bridge.element_list import (
    fill_list,
    known_survey,
    list_rows,
    show_problems,
    was_changed_outside,
)
from ..bridge.proxies import select_proxy
from ..core_calcs.skeleton.table import hash_table, read_table, write_table
from ..core_calcs.skeleton.table_check import check_rows
from ..core_calcs.spatial.errors import CounterpoiseError, TableError
from ..properties.paths import PATH_OPTIONS
from ..translations.phrases import say
from .long_step import fill_from_scene
from .step import Step, report_error, require_path

TABLE = {"table_path": "table_path"}


class COUNTERPOISE_OT_read_table(Step, bpy.types.Operator):
    """Fill the list of elements from the table's file. Edits that have not been written are lost"""

    bl_idname = "counterpoise.read_table"
    bl_label = "Read Table"
    bl_options = {"UNDO"}  # noqa: RUF012  no REGISTER: nobody should read or write a file again by the way

    table_path: bpy.props.StringProperty(
        name="Table", description="Element table (CSV)", subtype="FILE_PATH", options=PATH_OPTIONS
    )

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        fill_from_scene(self, context, TABLE)
        if not context.scene.counterpoise.table_edited:
            return self.execute(context)
        return context.window_manager.invoke_confirm(
            self,
            event,
            title="Read the Table Again?",
            message="The edits in the list are not in the table: they will be lost.",
            confirm_text="Read",
        )

    def work(self, context: bpy.types.Context) -> str:
        settings = context.scene.counterpoise
        table = require_path(self.table_path, "element table")
        digest, rows = hash_table(table), read_table(table)
        fill_list(settings, rows, *known_survey(settings, rows), table, digest)
        settings.table_path = self.table_path
        return say("{count} rows read from {table}", count=len(rows), table=table.name)


class COUNTERPOISE_OT_write_table(Step, bpy.types.Operator):
    """Check the list of elements and write it to the table's file. Nothing is written where it contradicts itself"""

    bl_idname = "counterpoise.write_table"
    bl_label = "Write Table"
    bl_options = {"UNDO"}  # noqa: RUF012

    table_path: bpy.props.StringProperty(
        name="Table", description="Element table (CSV)", subtype="FILE_PATH", options=PATH_OPTIONS
    )
    overwrite: bpy.props.BoolProperty(
        name="Overwrite",
        description="Write even where the file was changed outside since it was read: that change is lost",
        default=False,
        options={"SKIP_SAVE"},
    )

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        lack = super().name_lack(context)
        return lack or (
            "" if context.scene.counterpoise.elements else "The list is empty: survey the scans, or read a table"
        )

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        fill_from_scene(self, context, TABLE)
        try:
            changed = was_changed_outside(context.scene.counterpoise, require_path(self.table_path, "element table"))
        except CounterpoiseError as error:
            report_error(self, error)
            return {"CANCELLED"}
        if not changed:
            return self.execute(context)
        self.overwrite = True
        return context.window_manager.invoke_confirm(
            self,
            event,
            title="Overwrite the Table?",
            message="The file is not what the list was read from: what stands in it now will be lost.",
            confirm_text="Overwrite",
            icon="WARNING",
        )

    def work(self, context: bpy.types.Context) -> str:
        settings = context.scene.counterpoise
        table = require_path(self.table_path, "element table")
        rows = list_rows(settings)
        show_problems(settings)
        try:
            check_rows(rows)
        except TableError as error:
            if error.row is None:
                raise
            settings.element_index = error.row - 2  # the row in question, ready to be mended
            raise TableError(rows[error.row - 2].element or error.where, error.what, error.remedy) from error
        if was_changed_outside(settings, table) and not self.overwrite:
            what = "it is not what the list was read from: somebody changed it, or it was written before an undo"
            raise TableError(table.name, what, "read it again, which drops the edits in the list, or overwrite it")
        write_table(table, rows)
        fill_list(settings, rows, *known_survey(settings, rows), table, hash_table(table))
        settings.table_path = self.table_path
        values = {"count": len(rows), "table": table.name}
        if not settings.document:
            return say("{count} rows written to {table}", **values)
        return say("{count} rows written to {table}. Build the skeleton again to take them in", **values)


class COUNTERPOISE_OT_select_element(Step, bpy.types.Operator):
    """Show an element in the list and, where there is a skeleton, in the view"""

    bl_idname = "counterpoise.select_element"
    bl_label = "Show Element"

    element: bpy.props.StringProperty(name="Element", description="Its name")

    def work(self, context: bpy.types.Context) -> str:
        settings = context.scene.counterpoise
        index = settings.elements.find(self.element)
        if index >= 0:
            settings.element_index = index
        shown = select_proxy(context, self.element)
        if index < 0 and not shown:
            raise CounterpoiseError(
                self.element or "element", "it is neither in the list nor in the view", "name another"
            )
        return ""


CLASSES = (COUNTERPOISE_OT_read_table, COUNTERPOISE_OT_write_table, COUNTERPOISE_OT_select_element)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
