"""What to do first: in a scene without a skeleton, and with the demo."""

from __future__ import annotations

import bpy

from ..bridge.figures import drawn_figures
from ..bridge.long_work import running_work
from ..bridge.opened_demo import is_demo
from ..properties.icons import STATE_ICONS
from ..translations.phrases import say
from .tab import Tab, write_pair, write_wrapped


class COUNTERPOISE_PT_begin(Tab, bpy.types.Panel):
    """What to do first"""

    bl_idname = "COUNTERPOISE_PT_begin"
    bl_label = "Begin"
    bl_order = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        settings = context.scene.counterpoise
        empty = not (settings.document or settings.resting or settings.mark)
        # Not beside Running, even with the demo: where that was shown first, this would come to stand above it.
        return running_work() is None and (empty or is_demo(context.scene))

    def draw(self, context: bpy.types.Context) -> None:
        if is_demo(context.scene):
            draw_demo(self.layout, context)
        else:
            draw_choice(self.layout, context)


def draw_choice(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """The demo, scans, or a document that was saved."""
    column = layout.column()
    write_wrapped(column, context, "See how it goes, on an invented animal:")
    button = column.row()
    button.scale_y = 1.4
    button.operator("counterpoise.open_demo", icon="OUTLINER_OB_ARMATURE")
    column = layout.column()
    write_wrapped(column, context, "Or begin your own: choose the folder of your scans.")
    column.operator("counterpoise.choose_scans", icon="FILE_FOLDER")
    column = layout.column()
    write_wrapped(column, context, "Or go on with a skeleton that was saved:")
    column.operator("counterpoise.open_document", icon="FILE_FOLDER")


def draw_demo(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What to try, and the figures that move."""
    if context.mode == "POSE":
        write_wrapped(layout, context, "J and the mouse turn the joint in hand, Shift J bends the whole neck. Watch:")
    else:
        write_wrapped(
            layout, context, "Click the rig, Ctrl Tab for pose mode; then J and the mouse turn a joint. Watch:"
        )
    live, _, current = drawn_figures(context.scene)
    if live is not None:
        column = layout.box().column(align=True)
        column.active = current
        stands = next((finding for finding in live.findings if finding.name == "Stands"), None)
        rows = (
            (say("Mass"), live.mass, "BLANK1"),
            (say("Margin"), live.margin, STATE_ICONS[stands.state] if stands is not None else "BLANK1"),
            (say("Tip angle"), live.tip_angle, "BLANK1"),
        )
        for name, value, icon in rows:
            write_pair(column, context, name, value, icon=icon)
    write_wrapped(layout, context, "All figures and four saved poses are in 5. Ctrl Z takes back.")
    layout.operator("counterpoise.compare_poses")


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_begin,))
