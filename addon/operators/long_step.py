"""Steps that take long: prepared and finished in Blender, calculated beside it; Esc stops them."""

from __future__ import annotations

from typing import Any, ClassVar

import bpy

from ..bridge.long_work import Calculation, LongWork, end_work, start_work, stop_work
from ..bridge.tools_in_use import is_tool_in_use
from ..core_calcs.spatial.errors import Cancelled, CounterpoiseError
from ..translations.phrases import look_up_label, say, tell
from .step import Step, follow_progress, redraw_sidebars, report_error

INTERVAL_S = 0.2


class LongStep(Step):
    """Mixed into an operator instead of `Step`.

    `prepare` reads properties and scene and returns a calculation on plain values; the calculation runs in a thread;
    `finish` takes its result, writes to the scene and returns what to tell. From a script, and where there is no
    window, one follows the other at once. Nothing may be kept of the scene in between: the user may undo meanwhile.
    """

    bl_options = {"UNDO"}  # noqa: RUF012  no REGISTER: the panel of the last operation would do the whole work again

    timer = None
    """That looks after the calculation in the window; None until it begins."""

    writes_files = False
    """Whether the calculation itself writes: once it is through, Esc comes too late."""

    from_scene: ClassVar[dict[str, str]] = {}
    """Properties that are the scene's settings where the user's click gives none: as from the search for operators."""

    running: LongWork | None = None

    def prepare(self, context: bpy.types.Context) -> Calculation:
        raise NotImplementedError

    def finish(self, context: bpy.types.Context, found: Any) -> str:
        raise NotImplementedError

    def work(self, context: bpy.types.Context) -> str:
        if self.running is None:
            return self.finish(context, self.prepare(context)(follow_progress(context)))
        if self.running.stopped and not self.writes_files:
            raise Cancelled
        return self.finish(context, self.running.take())

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        fill_from_scene(self, context, self.from_scene)
        if bpy.app.background or context.window is None:
            return self.execute(context)
        return self.begin(context)

    def begin(self, context: bpy.types.Context) -> set[str]:
        """Start the calculation and wait for it in `modal`."""
        try:
            calculate = self.prepare(context)
        except CounterpoiseError as error:
            report_error(self, error)
            return {"CANCELLED"}
        self.running = start_work(self.bl_label, calculate)
        self.scene_name = context.scene.name
        manager = context.window_manager
        manager.progress_begin(0, 100)
        self.timer = manager.event_timer_add(INTERVAL_S, window=context.window)
        manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type == "ESC" and event.value == "PRESS":
            self.running.stop()
            show_work(context, self.running)
            return {"RUNNING_MODAL"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        if not self.running.is_over() or is_tool_in_use(context):
            show_work(context, self.running)
            return {"PASS_THROUGH"}
        self.put_away(context)
        if context.scene.name != self.scene_name and not self.writes_files:
            told = say("{step}: another scene is shown now. Nothing was changed; do it again.", step=self.name_label())
            self.report({"ERROR"}, told)
            return {"CANCELLED"}
        done = self.execute(context)
        if done == {"CANCELLED"} and self.running.stopped:
            self.report({"INFO"}, say("{step} was stopped. Nothing was changed.", step=self.name_label()))
        return done

    def name_label(self) -> str:
        """Its label in the interface's language."""
        return look_up_label(self.bl_label)

    def cancel(self, context: bpy.types.Context) -> None:
        """The window closes or another file is loaded: stop, and wait until nothing half-written is left."""
        if self.timer is None:  # its dialog was closed before it began
            return
        stop_work()
        self.put_away(context)

    def put_away(self, context: bpy.types.Context) -> None:
        """Take timer and progress out of the window."""
        manager = context.window_manager
        manager.event_timer_remove(self.timer)
        manager.progress_end()
        end_work()
        for workspace in bpy.data.workspaces:
            workspace.status_text_set(None)
        redraw_sidebars(context)


class AsksFirst(LongStep):
    """Mixed into a long step that asks the user something before it begins."""

    asked = False

    def ask(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str] | None:
        """Ask; None where there is nothing to ask."""
        raise NotImplementedError

    def answers(self) -> dict[str, Any]:
        """The properties with which the step goes on once it is answered: there is nothing to ask then."""
        raise NotImplementedError

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        fill_from_scene(self, context, self.from_scene)
        asked = self.ask(context, event)
        if asked is None:
            return super().invoke(context, event)
        self.asked = True
        return asked

    def execute(self, context: bpy.types.Context) -> set[str]:
        if not self.asked:
            return super().execute(context)
        # Blender ends an operator once it is answered: the work goes to a new one.
        again = getattr(bpy.ops.counterpoise, type(self).bl_idname.partition(".")[2])
        again("INVOKE_DEFAULT", **self.answers())
        return {"CANCELLED"}


class AsksForPath(AsksFirst):
    """Mixed into a long step whose file or folder is chosen first, where none is given.

    asks_for : name of the property
    """

    asks_for = "filepath"

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        if getattr(self, self.asks_for):
            return None
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def answers(self) -> dict[str, Any]:
        return {self.asks_for: getattr(self, self.asks_for)}


def fill_from_scene(operator: bpy.types.Operator, context: bpy.types.Context, names: dict[str, str]) -> None:
    """Set what was not given from the scene's settings.

    names : by property of the operator the setting
    """
    for name, setting in names.items():
        if not operator.properties.is_property_set(name):
            setattr(operator, name, getattr(context.scene.counterpoise, setting))


def show_work(context: bpy.types.Context, work: LongWork) -> None:
    """How far it is: in the status bar, at the mouse, in the sidebar."""
    percent = round(100 * work.share)
    context.window_manager.progress_update(percent)
    doing = say("stopping") if work.stopped else f"{tell(work.doing)}, {percent} %"
    if work.is_over():
        doing = say("done, waiting for the tool in use to end")
    told = say("{step}: {doing}     Esc: stop", step=look_up_label(work.name), doing=doing)
    context.workspace.status_text_set(told)
    redraw_sidebars(context)
