"""What every step shares: plain errors, progress in the cursor, figures brought up to date."""

from __future__ import annotations

from pathlib import Path

import bpy

from ..bridge.casting_rows import mirror_castings
from ..bridge.castings import refresh_castings
from ..bridge.figures import refresh_figures
from ..bridge.handlers import redraw_views
from ..bridge.long_work import running_work
from ..bridge.pose_rows import mirror_poses
from ..bridge.records import mirror_records
from ..core_calcs.spatial.errors import Cancelled, CounterpoiseError
from ..core_calcs.spatial.progress import Progress
from ..translations.phrases import look_up, look_up_label, say, tell, tell_error
from .pages import find_page, name_page, point_to

AS_GIVEN = {"SKIP_SAVE"}
"""Options of an operator's property: Blender would hand on what the operator was given the last time."""


class Step:
    """Mixed into an operator: `work` does the job and returns what to tell; a CounterpoiseError becomes a report."""

    bl_options = {"REGISTER", "UNDO"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        lack = cls.name_lack(context)
        if lack:
            cls.poll_message_set(look_up(lack))
        return not lack

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        """Why it cannot run now, and what to do; empty where it can."""
        if context.scene.library is not None:
            file = context.scene.library.filepath
            return say("The scene is linked from {file}: open that file to work in it", file=file)
        work = running_work()
        running = look_up_label(work.name) if work else ""
        return say("{step} is running: wait for it, or stop it with Esc", step=running) if work else ""

    def execute(self, context: bpy.types.Context) -> set[str]:
        context.window_manager.progress_begin(0, 100)
        try:
            told = self.work(context)
        except CounterpoiseError as error:
            report_error(self, error)
            return {"CANCELLED"}
        except Cancelled:
            return {"CANCELLED"}
        finally:
            context.window_manager.progress_end()
        point_to("")
        bring_up_to_date(context)
        if told:
            self.report({"INFO"}, tell(told))
        return {"FINISHED"}

    def work(self, context: bpy.types.Context) -> str:
        raise NotImplementedError


def report_error(operator: bpy.types.Operator, error: CounterpoiseError) -> None:
    """Tell what is wrong and what to do, and name the page that says more; its question mark stands out."""
    told, page = tell_error(error), find_page(getattr(type(operator), "bl_idname", ""))
    point_to(page)
    operator.report({"ERROR"}, say("{error} Page: {page}", error=told, page=name_page(page)) if page else told)
    redraw_sidebars(bpy.context)


def redraw_sidebars(context: bpy.types.Context) -> None:
    """Ask the sidebars of all 3D views to be drawn again, not the views themselves."""
    for window in context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                for region in area.regions:
                    if region.type == "UI":
                        region.tag_redraw()


def bring_up_to_date(context: bpy.types.Context) -> None:
    """Rows, figures and views after a step."""
    mirror_poses(context.scene)
    mirror_castings(context.scene)
    mirror_records(context.scene)
    refresh_castings(context)
    refresh_figures(context)
    redraw_views(context)  # a dialog that closes leaves the sidebar under it as it was


def follow_progress(context: bpy.types.Context) -> Progress:
    """Progress shown in the cursor."""

    def show(_doing: str, share: float) -> None:
        context.window_manager.progress_update(round(100 * share))

    return show


def require_path(path: str, what: str) -> Path:
    """A path as the user gave it, `//` taken as the .blend's folder; CounterpoiseError where it is empty."""
    if not path.strip():
        raise CounterpoiseError(what, "none is given", "choose one")
    if path.startswith("//") and not bpy.data.filepath:
        raise CounterpoiseError(path, "it is relative to the .blend, which has not been saved", "save the .blend first")
    return Path(bpy.path.abspath(path))


class NeedsSkeleton(Step):
    """Mixed into an operator that works on the scene's skeleton."""

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        there = context.scene.counterpoise.document is not None
        lack = (
            "" if there else "The scene holds no skeleton: build one from scans (step 1), or open a skeleton document"
        )
        return super().name_lack(context) or lack


class NeedsRig(NeedsSkeleton):
    """Mixed into an operator that works on the rig."""

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        there = context.scene.counterpoise.rig is not None
        return super().name_lack(context) or ("" if there else "The rig is gone: undo its removal, or build it again")


def proxy_triangles() -> int:
    """How many triangles an element's display proxy may have."""
    package = __package__.rpartition(".")[0]
    return int(bpy.context.preferences.addons[package].preferences.proxy_triangles)
