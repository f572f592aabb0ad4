"""What is being worked on, above the steps, while it takes."""

from __future__ import annotations

import bpy

from ..bridge.long_work import running_work
from ..translations.phrases import say, tell
from .tab import Tab, write_wrapped


class COUNTERPOISE_PT_running(Tab, bpy.types.Panel):
    """The step that is running"""

    bl_idname = "COUNTERPOISE_PT_running"
    bl_label = "Running"
    bl_order = 0  # with a heading: a panel without one would bring the tab to the top of all while it is shown

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        return running_work() is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout, work = self.layout, running_work()
        layout.label(text=work.name, text_ctxt="Operator", icon="SORTTIME")
        layout.progress(factor=work.share, text=f"{work.share:.0%}")
        told = say("{doing}. Esc stops it.", doing=tell(work.doing))
        write_wrapped(layout, context, "stopping" if work.stopped else told)


CLASSES = (COUNTERPOISE_PT_running,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
