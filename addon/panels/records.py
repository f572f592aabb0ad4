"""What was put right and set by hand, the newest first: what, why, on what evidence, by whom, when."""

from __future__ import annotations

import bpy

from ..bridge.figures import is_unreadable
from ..bridge.records import show_record
from ..translations.phrases import say, tell
from .tab import Tab, show_page, write_wrapped

RECORD_ICONS = {"correction": "FILE_REFRESH", "override": "GREASEPENCIL", "addition": "ADD"}


class COUNTERPOISE_UL_records(bpy.types.UIList):
    """A record in a row"""

    bl_idname = "COUNTERPOISE_UL_records"

    def draw_item(
        self,
        _context: bpy.types.Context,
        layout: bpy.types.UILayout,
        _settings: object,
        record: bpy.types.PropertyGroup,
        _icon: int,
        _active_data: object,
        _active_property: str,
    ) -> None:
        layout.label(text=tell(record.name), icon=RECORD_ICONS.get(record.kind, "TEXT"))


class COUNTERPOISE_PT_records(Tab, bpy.types.Panel):
    """Everything put right or set by hand in this skeleton, with who, when and why"""

    bl_idname = "COUNTERPOISE_PT_records"
    bl_label = "Records"
    bl_parent_id = "COUNTERPOISE_PT_skeleton"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        if count := len(context.scene.counterpoise.records):
            self.layout.label(text=str(count))
        show_page(self)

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.counterpoise
        field = layout.row()
        field.use_property_split, field.use_property_decorate = True, False
        field.prop(settings, "recorded_by", placeholder=say("Name or initials"))
        if not settings.records:
            none = "None yet: what is set by hand from now on is recorded here."
            write_wrapped(layout, context, "Not known." if is_unreadable(context.scene) else none, "INFO")
            return
        layout.template_list(
            COUNTERPOISE_UL_records.bl_idname, "", settings, "records", settings, "record_index", rows=3
        )
        draw_record(layout, context)
        layout.operator("counterpoise.put_back", icon="LOOP_BACK")


def draw_record(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """The record selected, in full."""
    record = show_record(context.scene)
    if record is None:
        return
    box = layout.box()
    write_wrapped(box, context, record.title, RECORD_ICONS.get(record.kind, "TEXT"))
    told = ((say("What"), tell(record.what)), (say("Why"), record.why), (say("Evidence"), tell(record.evidence)))
    for name, text in (*told, (say("By"), record.by), (say("When"), record.when)):
        column = box.column(align=True)
        head = column.row()
        head.active, head.scale_y = False, 0.8
        head.label(text=name)
        for part in text.split("; "):
            write_wrapped(column, context, part)


CLASSES = (COUNTERPOISE_UL_records, COUNTERPOISE_PT_records)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
