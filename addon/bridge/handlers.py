"""Blender's handlers: they drop what is out of date and wake a timer that computes it.

None writes a property, but for what Blender's own undo has dropped.
"""

from __future__ import annotations

import gc
from pathlib import Path

import bpy
from bpy.app.handlers import persistent

from ..core_calcs.spatial.errors import CounterpoiseError
from .audit import drop_audit
from .casting_rows import mirror_castings
from .castings import drop_castings, refresh_castings
from .figures import drop_earlier, drop_figures, refresh_figures
from .kept_document import hold_texts, keep_document
from .language import follow_language, leave_language
from .own_handlers import leave_alone, listen_for
from .pose_pictures import wake_pictures
from .pose_rows import mirror_poses
from .records import mirror_records
from .resting import forget_checks, leave_pose, wake_checks
from .saving import follow_blend, settle_documents
from .tools_in_use import is_tool_in_use
from .undo_repair import put_back

DELAY_S = 0.05
REST_S = 0.4
"""A pose that has not changed for so long rests."""

_mirrored: dict[str, str] = {}
"""By scene the digest of the document that its rows were made from last; nothing else writes them but operators that
change the document, and undo."""


@persistent
def note_change(_scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """After an evaluation: the live pose may be another."""
    if depsgraph.mode == "RENDER":
        return
    wake_timer()


@persistent
def forget_results(*_: object) -> None:
    """After undo, redo or load nothing that was computed may be trusted."""
    drop_figures()
    drop_audit()
    _mirrored.clear()
    wake_timer()


@persistent
def mend_undo(*_: object) -> None:
    """After undo and redo: what Blender has dropped of a skeleton is put back."""
    put_back()


@persistent
def forget_file(*_: object) -> None:
    """After load not even what was shown before belongs to what is there."""
    forget_results()
    drop_earlier()
    drop_castings()
    forget_checks()
    follow_language(note_language)  # of whatever was followed Blender knows no more


@persistent
def follow_file(path: str, *_: object) -> None:
    """Before saving: mesh folders are relative to the .blend."""
    if path:
        follow_blend(Path(path))


@persistent
def settle_file(path: str, *_: object) -> None:
    """After saving, or failing to: a copy that was saved elsewhere leaves the mesh folders as they were."""
    if path:
        settle_documents(Path(path))


def note_language() -> None:
    """The user has changed the interface's language: figures and rows hold words of the one before."""
    _mirrored.clear()
    wake_timer()


def wake_timer() -> None:
    """Compute soon, once, however often this is asked."""
    if not bpy.app.background and not bpy.app.timers.is_registered(compute_figures):
        bpy.app.timers.register(compute_figures, first_interval=DELAY_S)


def compute_figures() -> None:
    """The timer: compute for the scene of every window, and draw the sidebars anew where something changed."""
    with hold_texts():
        _compute()
    if bpy.app.timers.is_registered(settle_figures):
        bpy.app.timers.unregister(settle_figures)
    bpy.app.timers.register(settle_figures, first_interval=REST_S)


def settle_figures() -> float | None:
    """The timer of a pose that rests: what was taken as it was a moment ago is read again, what is slow is begun.

    A tool that is held still has not let go of the pose yet: then it is asked again.
    """
    _compute()
    if is_tool_in_use(bpy.context):
        return REST_S
    wake_checks()
    return None


def _compute() -> None:
    changed = False
    for window in bpy.context.window_manager.windows:
        with bpy.context.temp_override(window=window):
            changed |= refresh_scene(bpy.context)
    if changed:
        redraw_views(bpy.context)
        leave_pose()
    wake_pictures()


def refresh_scene(context: bpy.types.Context) -> bool:
    """All that a change may alter of what the context's scene shows; True where something shown has changed."""
    mirror_rows(context.scene)
    recast = refresh_castings(context)
    return refresh_figures(context) or recast


def mirror_rows(scene: bpy.types.Scene) -> None:
    """Make the rows of all lists those of the scene's document, where that is another than they were made from."""
    try:
        digest = keep_document(scene).digest
    except CounterpoiseError:  # there is none, or the figures tell what is wrong with it
        digest = ""
    if _mirrored.get(scene.name) == digest:
        return
    mirror_poses(scene)
    mirror_castings(scene)
    mirror_records(scene)
    _mirrored[scene.name] = digest


def redraw_views(context: bpy.types.Context) -> None:
    """Ask every 3D view to be drawn again."""
    for window in context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


_HANDLERS = (
    ("depsgraph_update_post", note_change),
    ("frame_change_post", note_change),
    ("undo_post", mend_undo),
    ("redo_post", mend_undo),
    ("undo_post", forget_results),
    ("redo_post", forget_results),
    ("load_post", forget_file),
    ("save_pre", follow_file),
    ("save_post", settle_file),
    ("save_post_fail", settle_file),
)


def register() -> None:
    listen_for(_HANDLERS)
    follow_language(note_language)
    # What is loaded by now (150 000 objects, Blender's own for the most part) stays. To look through it for what nobody
    # needs any longer takes .1 s each time, in the middle of a drag.
    gc.freeze()
    wake_timer()


def unregister() -> None:
    gc.unfreeze()
    leave_language()
    leave_alone(_HANDLERS)
    for timer in (compute_figures, settle_figures):
        if bpy.app.timers.is_registered(timer):
            bpy.app.timers.unregister(timer)
    drop_figures()
    drop_earlier()
    drop_audit()
    drop_castings()
