"""What touches the ground, and what it bears in the live pose."""

from __future__ import annotations

import bpy

from ..bridge.contacts import holds_choice
from ..bridge.figures import current_problem, drawn_figures
from ..translations.phrases import tell
from .tab import Tab, write_wrapped


class COUNTERPOISE_PT_contacts(Tab, bpy.types.Panel):
    """The feet and what else touches the ground, with what it bears in the live pose"""

    bl_idname = "COUNTERPOISE_PT_contacts"
    bl_label = "Ground Contacts"
    bl_parent_id = "COUNTERPOISE_PT_pose"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        live, _, current = drawn_figures(context.scene)
        if live is None:
            write_wrapped(
                layout, context, "Not known." if current_problem(context.scene) else "Being computed.", "INFO"
            )
        elif not live.feet:
            write_wrapped(layout, context, "None: nothing is known of balance without one.", "QUESTION")
        else:
            column = layout.column(align=True)
            column.active = current
            for foot in live.feet:
                row = column.row(align=True)
                split = row.split(factor=0.55, align=True)
                choice = split.row(align=True)
                choice.alignment = "LEFT"
                icon = "CHECKBOX_HLT" if foot.bears else "CHECKBOX_DEHLT"
                bear = choice.operator("counterpoise.let_bear", text=tell(foot.name), icon=icon, emboss=False)
                bear.name, bear.bears = foot.name, not foot.bears
                split.label(text=foot.text)
                row.operator("counterpoise.remove_contact", text="", icon="X", emboss=False).name = foot.name
        layout.operator("counterpoise.add_contact", icon="ADD")
        if not holds_choice(context):
            hint = "To add one: select its bones in pose mode, or choose its element (step 1, Show Element)."
            write_wrapped(layout, context, hint, "INFO")


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_contacts,))
