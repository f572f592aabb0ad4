"""The slow checks follow the pose once it rests, in a Python beside Blender: what runs into what, what the wind sees.

Nothing here waits, and nothing is written to the scene: what comes back is kept by the content that it was found for.
"""

from __future__ import annotations

from dataclasses import dataclass

import bpy

from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.rest_checks import RestAnswer, RestOrder
from ..core_calcs.studies.rest_worker import RestWorker, can_start
from ..translations.phrases import say, tell
from .clearance import drop_clearance, known_clearance, note_clearance
from .figures import drawn_live, read_scene_pose, refresh_figures
from .kept_document import KeptDocument, keep_document, text_path
from .long_work import running_work
from .pose_pictures import wake_pictures
from .wind import known_shown, note_shown

ASKING_S = 0.1
ADDON = __package__.rpartition(".")[0]

Key = tuple[object, ...]


@dataclass
class Checking:
    """The order that is being done. key : of the live pose it began with; doing, share : how far it is, 0 to 1"""

    order: RestOrder
    kept: KeptDocument
    key: Key
    doing: str = "beginning"
    share: float = 0.0


@dataclass
class _Desk:
    """The Python beside, what it has been told, and what is not tried again.

    left : key of the pose that is not; why : what went wrong with it; empty: the user has stopped it
    """

    worker: RestWorker | None = None
    going: Checking | None = None
    number: int = 0
    text: str = ""
    left: Key = ()
    why: str = ""
    shown: bool = False


_desk = _Desk()


def running_checks() -> Checking | None:
    """The checks that are going on."""
    return _desk.going


def find_left(scene: bpy.types.Scene) -> str | None:
    """Why the checks of the live pose as it is drawn are not tried again; empty: stopped by hand; None: they are."""
    kept, live = drawn_live(scene)
    if not _desk.left or kept is None or live is None or (kept.digest, _key(live.pose)) != _desk.left:
        return None
    return _desk.why


def check_again() -> None:
    """As the user asks: what was stopped, or failed, is tried anew."""
    _desk.left = ()
    wake_checks()


def begin_checks(context: bpy.types.Context) -> bool:
    """Have what is not known of the context's scene found out; whether there is anything to be found out."""
    if not context.preferences.addons[ADDON].preferences.check_at_rest or running_work() is not None:
        return False
    try:
        kept = keep_document(context.scene)
        live = read_scene_pose(context, kept)
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
    except CounterpoiseError:
        return False  # the figures tell why
    poses = (live, *kept.document.poses)
    clear = tuple(pose for pose in poses if known_clearance(kept, pose) is None)
    windy = kept.document.site.wind is not None
    blow = tuple(pose for pose in poses if windy and known_shown(kept, pose) is None)
    key = (kept.digest, _key(live))
    if not (clear or blow) or key == _desk.left:
        return False
    if _desk.going is not None and _desk.going.key == key:
        return True
    return _ask(kept, key, RestOrder(0, kept.text, str(folder), clear, blow))


def _key(pose: Pose) -> Key:
    turned = frozenset((child, values.tobytes()) for child, values in pose.angles_rad.items() if values.any())
    return (pose.X_WN.tobytes(), turned)


def _ask(kept: KeptDocument, key: Key, wanted: RestOrder) -> bool:
    if _desk.worker is None or not _desk.worker.is_alive():
        _end_worker()
        if not can_start():
            _leave(key, say("no Python can be started beside this Blender"))
            return False
        try:
            _desk.worker = RestWorker()
        except OSError as error:
            _leave(key, say("no Python can be started beside Blender: {error}", error=error))
            return False
    _desk.number += 1
    text = "" if wanted.text == _desk.text else wanted.text
    order = RestOrder(_desk.number, text, wanted.mesh_folder, wanted.clear, wanted.blow)
    _desk.worker.ask(order)
    _desk.text, _desk.going = wanted.text, Checking(order, kept, key)
    return True


def leave_pose() -> None:
    """The pose is another: what is asked of the one before is left at once; what is being read of files goes on."""
    if _desk.going is not None:
        _stop(stop=False)


def stop_checks() -> None:
    """As the user asks: nothing more is tried until pose or document are others."""
    if _desk.going is not None:
        _desk.left, _desk.why = _desk.going.key, ""
        _stop(stop=True)


def _leave(key: Key, why: str) -> None:
    """What went wrong: whole for the console, its last line for the panel."""
    print(f"Counterpoise: the pose could not be checked: {why}")
    _desk.left, _desk.why = key, why.strip().splitlines()[-1]
    _redraw_views()


def _stop(stop: bool) -> None:
    _desk.going = None
    if _desk.worker is not None:
        _desk.number += 1
        _desk.worker.ask(RestOrder(_desk.number, stop=stop))
    clear_status()


def listen() -> bool:
    """Keep what has been answered; True where something was found."""
    worker, found = _desk.worker, False
    if worker is None:
        return False
    for answer in worker.listen():
        found |= _take(answer)
    if _desk.going is not None and not worker.is_alive():
        _leave(_desk.going.key, say("the Python that checks poses beside Blender has ended"))
        _desk.going = None
    return found


def _take(answer: RestAnswer) -> bool:
    """Of an order that was left only the making ready is still of interest."""
    going = _desk.going
    if going is None:
        return False
    if answer.doing:
        going.doing, going.share = answer.doing, answer.share
    if answer.number != going.order.number:
        return False
    if answer.clearance is not None:
        note_clearance(going.kept, going.order.clear[answer.index], answer.clearance)
    if answer.shown is not None:
        note_shown(going.kept, going.order.blow[answer.index], answer.shown)
    if answer.over:
        if answer.problem:
            _leave(going.key, answer.problem)
        _desk.going = None
    return answer.index >= 0


def follow_checks() -> float | None:
    """The timer while checks go on: show how far they are, and what they have found."""
    if _desk.going is not None and not any(scene.counterpoise.document for scene in bpy.data.scenes):
        _stop(stop=True)  # undone, or taken out, with the last skeleton
    if listen():
        for window in bpy.context.window_manager.windows:
            with bpy.context.temp_override(window=window):
                refresh_figures(bpy.context)
        _redraw_views()
        wake_pictures()  # their signs say what a pose's checks have found
    if _desk.going is None:
        _redraw_views()
        clear_status()
        return None
    if running_work() is None:
        words = {"doing": tell(_desk.going.doing), "percent": round(100 * _desk.going.share)}
        told = say("Checking the pose: {doing}, {percent} %     Esc: stop", **words)
        _write_status(told)
        _desk.shown = True
    return ASKING_S


def _redraw_views() -> None:
    """Only where something else is to be seen: a sidebar drawn again and again takes dialogs from under the mouse."""
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


def _write_status(told: str | None) -> None:
    """In every window's status bar. Blender takes the window from the context, and falls where a timer's has none."""
    for window in bpy.context.window_manager.windows:
        with bpy.context.temp_override(window=window):
            window.workspace.status_text_set(told)


def clear_status() -> None:
    """Give the status bar back."""
    if _desk.shown and running_work() is None:
        _write_status(None)
    _desk.shown = False


def wake_checks() -> None:
    """The pose rests: begin, and follow; Esc is listened to as long as it lasts."""
    begun = False
    for window in bpy.context.window_manager.windows:
        with bpy.context.temp_override(window=window):
            if begin_checks(bpy.context):
                begun = True
                break
    if begun and not bpy.app.timers.is_registered(follow_checks):
        bpy.app.timers.register(follow_checks, first_interval=ASKING_S)
        _redraw_views()
        with bpy.context.temp_override(window=window):
            bpy.ops.counterpoise.heed_escape("INVOKE_DEFAULT")


def forget_checks() -> None:
    """Another file was loaded: nothing that is known is of it."""
    leave_pose()
    _desk.left = ()
    drop_clearance()


def _end_worker() -> None:
    if _desk.worker is not None:
        _desk.worker.end()
    _desk.worker, _desk.going, _desk.text = None, None, ""


def register() -> None:
    """Nothing runs until a pose rests."""


def unregister() -> None:
    if bpy.app.timers.is_registered(follow_checks):
        bpy.app.timers.unregister(follow_checks)
    clear_status()
    _end_worker()
    forget_checks()
