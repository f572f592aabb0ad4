"""Clearance follows the pose once it rests: tried in a thread beside Blender, which is asked for nothing meanwhile."""

from __future__ import annotations

import traceback
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import bpy

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.clearance import Tried, try_pose
from .clearance import KnownClearance, drop_clearance, find_known
from .figures import read_scene_pose, refresh_figures
from .kept_document import KeptDocument, keep_document

REST_S = 0.3
"""A pose that has not changed for so long rests."""
ASKING_S = 0.05


@dataclass(frozen=True)
class _Work:
    """A pose that is being tried."""

    known: KnownClearance
    kept: KeptDocument
    pose: Pose
    future: Future[Tried]


_pool: ThreadPoolExecutor | None = None
_work: _Work | None = None
_seen: dict[str, tuple[object, ...]] = {}
"""By scene: the live pose when it was looked at last."""


def wake_clearance() -> None:
    """Look soon whether a pose rests that has not been tried, however often this is asked."""
    if not bpy.app.background and not bpy.app.timers.is_registered(follow_poses):
        bpy.app.timers.register(follow_poses, first_interval=REST_S)


def follow_poses() -> float | None:
    """The timer: take what was found, try the next pose that is not known; ends where all are."""
    global _work
    if _work is not None:
        if not _work.future.done():
            return ASKING_S
        done, _work = _work, None
        _take(done)
    waits = [follow_scene(window) for window in bpy.context.window_manager.windows]
    return min((wait for wait in waits if wait is not None), default=None)


def follow_scene(window: bpy.types.Window) -> float | None:
    """Begin with the next pose of a window's scene; when to ask again, None where nothing is left to do."""
    with bpy.context.temp_override(window=window):
        try:
            kept = keep_document(window.scene)
            known = find_known(kept)
            if known is None:
                return None
            live = read_scene_pose(bpy.context, kept)
        except CounterpoiseError:
            return None  # the figures tell why
    seen = (live.X_WN.tobytes(), *(values.tobytes() for values in live.angles_rad.values()))
    if _seen.get(window.scene.name) != seen:
        _seen[window.scene.name] = seen
        return REST_S
    if _work is not None:
        return ASKING_S
    pose = next((pose for pose in (live, *kept.document.poses) if known.lacks(kept, pose)), None)
    if pose is None:
        return None
    _begin(known, kept, pose)
    return ASKING_S


def _begin(known: KnownClearance, kept: KeptDocument, pose: Pose) -> None:
    global _pool, _work
    if _pool is None:
        _pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="Counterpoise: clearance")
    _work = _Work(known, kept, pose, _pool.submit(try_pose, known.prepared, pose, known.last))


def _take(done: _Work) -> None:
    """Keep what was found; a fault is told once, in the console, and the pose stays not known."""
    if (error := done.future.exception()) is not None:
        traceback.print_exception(error)
        done.known.note_failure(done.kept, done.pose)
        return
    done.known.note(done.kept, done.pose, done.future.result())
    _show_news()


def _show_news() -> None:
    for window in bpy.context.window_manager.windows:
        with bpy.context.temp_override(window=window):
            refresh_figures(bpy.context)
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


def forget_clearance() -> None:
    """Forget what is known and what is being tried: another file was loaded."""
    global _work
    _work = None
    _seen.clear()
    drop_clearance()


def register() -> None:
    """Nothing runs until something was made ready."""


def unregister() -> None:
    global _pool
    if bpy.app.timers.is_registered(follow_poses):
        bpy.app.timers.unregister(follow_poses)
    if _pool is not None:
        _pool.shutdown(wait=True, cancel_futures=True)
        _pool = None
    forget_clearance()
