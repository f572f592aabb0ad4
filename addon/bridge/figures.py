"""Figures of the live pose and of every saved one, ready to be shown: computed outside drawing, kept by content."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

import bpy

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.assess import summarise_prepared
from ..core_calcs.studies.assessment import JointUse
from ..core_calcs.studies.mounted import list_moved
from ..core_calcs.studies.places_by_hand import list_placed
from .clearance import find_known, known_clearance
from .figure_text import PlacedFigure, PoseFigures, word_failure, word_figures, word_moved, word_placed
from .kept_document import KeptDocument, drop_documents, keep_document
from .motions import read_live_pose, recover_pose
from .units import Units, scene_units

LIVE = "live pose"

Found = TypeVar("Found")

Key = tuple[object, ...]
"""The content that figures were computed from."""


@dataclass
class _Shown:
    """What panel and view show of one skeleton, and the content that it was computed from.

    kept : the document; uses : how the live pose uses each joint, by its child
    """

    problem: str = ""
    live_key: Key = ()
    live: PoseFigures | None = None
    saved_key: Key = ()
    saved: tuple[PoseFigures, ...] = ()
    placed: tuple[PlacedFigure, ...] = ()
    straddling: tuple[tuple[str, str], ...] = ()
    kept: KeptDocument | None = None
    uses: dict[str, JointUse] = field(default_factory=dict)
    allowed: str = ""
    followed: bool = False

    @property
    def seen(self) -> tuple[object, ...]:
        """What changes the picture when it changes."""
        return (
            self.problem,
            self.live,
            self.saved,
            self.placed,
            self.straddling,
            self.uses,
            self.allowed,
            self.followed,
        )


_shown: dict[tuple[str, str], _Shown] = {}
"""By the names of scene and text block; the keys within tell whether the content is still the same."""


_earlier: dict[tuple[str, str], _Shown] = {}
"""What was shown before the results were dropped: drawn greyed until they are computed anew, so that nothing jumps."""


def drop_figures() -> None:
    """Forget all results: after undo, redo, load."""
    _earlier.update(_shown)
    _shown.clear()
    drop_documents()


def drop_earlier() -> None:
    """Forget what was shown before as well: it was of another file."""
    _earlier.clear()


def drawn_figures(scene: bpy.types.Scene) -> tuple[PoseFigures | None, tuple[PoseFigures, ...], bool]:
    """Live and saved figures to draw, and whether they are up to date; else the earlier ones, to be drawn greyed."""
    text = scene.counterpoise.document
    place = (scene.name, text.name if text else "")
    known = place in _shown
    shown = (_shown if known else _earlier).get(place, _Shown())
    return shown.live, shown.saved, known


def drawn_places(scene: bpy.types.Scene) -> tuple[tuple[PlacedFigure, ...], tuple[tuple[str, str], ...]]:
    """The elements placed by hand, and those that follow two others, in words; to draw, be they of before."""
    text = scene.counterpoise.document
    place = (scene.name, text.name if text else "")
    shown = (_shown if place in _shown else _earlier).get(place, _Shown())
    return shown.placed, shown.straddling


def drawn_joints(scene: bpy.types.Scene) -> tuple[KeptDocument | None, dict[str, JointUse]]:
    """The document as it was last read, and how the live pose uses its joints; to draw, be they of before."""
    text = scene.counterpoise.document
    place = (scene.name, text.name if text else "")
    shown = (_shown if place in _shown else _earlier).get(place, _Shown())
    return shown.kept, shown.uses


def drawn_clearance(scene: bpy.types.Scene) -> tuple[str, bool]:
    """How deep elements may run into each other, in words, and whether clearance follows the pose."""
    text = scene.counterpoise.document
    place = (scene.name, text.name if text else "")
    shown = (_shown if place in _shown else _earlier).get(place, _Shown())
    return shown.allowed, shown.followed


def live_figures(scene: bpy.types.Scene | None = None) -> PoseFigures | None:
    """Of the pose the rig holds; None where not computed (yet). Without a scene: the context's."""
    return _of(scene or bpy.context.scene).live


def saved_figures(scene: bpy.types.Scene | None = None) -> tuple[PoseFigures, ...]:
    """Of every saved pose, in the document's order. Without a scene: the context's."""
    return _of(scene or bpy.context.scene).saved


def current_problem(scene: bpy.types.Scene | None = None) -> str:
    """Why there are no live figures; empty where there are. Without a scene: the context's."""
    return _of(scene or bpy.context.scene).problem


def _of(scene: bpy.types.Scene) -> _Shown:
    text = scene.counterpoise.document
    return _Shown() if text is None else _shown.get((scene.name, text.name), _Shown())


def refresh_figures(context: bpy.types.Context) -> bool:
    """Compute what is missing for the context's scene; True where something shown has changed.

    What cannot be computed is shown as not known, with the reason.
    """
    scene, text = context.scene, context.scene.counterpoise.document
    if text is None:
        return False
    place = (scene.name, text.name)
    shown = _shown.setdefault(place, _Shown())
    before = shown.seen
    kept, problem = attempt(lambda: keep_document(scene), shown.problem)
    if kept is None:
        _shown[place] = shown = _Shown(problem)
        return before != shown.seen
    shown.kept, units = kept, scene_units(scene)
    poses = kept.document.poses
    saved_key = (kept.digest, units, *(known_clearance(kept, pose) for pose in poses))
    if shown.saved_key != saved_key:
        shown.saved = tuple(_find_saved(kept, pose, units) for pose in poses)
        shown.placed = tuple(word_placed(placed, units) for placed in list_placed(kept.document.skeleton))
        joints = kept.document.skeleton.joints
        shown.straddling = tuple((own.child, f"{own.parent}, {own.also}") for own in joints if own.also is not None)
        shown.saved_key = saved_key
        shown.allowed = f"Allowed {100 * kept.document.site.clearance_share_s:.3g} %"
    shown.followed = find_known(kept) is not None
    live, shown.problem = attempt(lambda: _find_live(context, kept, shown), shown.problem)
    shown.live_key, shown.live, shown.uses = live or ((), None, {})
    return before != shown.seen


def attempt(compute: Callable[[], Found], known: str = "") -> tuple[Found | None, str]:
    """What was computed, and no problem; else nothing, and the problem in plain words.

    The traceback of a fault that nobody foresaw goes to the console, unless that problem is known already.
    """
    try:
        return compute(), ""
    except CounterpoiseError as error:
        return None, str(error)
    except Exception as error:  # noqa: BLE001  whatever fails, no figure may be shown that is out of date
        problem = f"{type(error).__name__}: {error}. This is a fault of the add-on; the console says more"
        if problem != known:
            traceback.print_exception(error)
        return None, problem


def _find_live(
    context: bpy.types.Context, kept: KeptDocument, shown: _Shown
) -> tuple[Key, PoseFigures, dict[str, JointUse]]:
    pose, units = read_scene_pose(context, kept), scene_units(context.scene)
    key = (*_content(kept, pose), units, known_clearance(kept, pose))
    if shown.live is not None and shown.live_key == key:
        return key, shown.live, shown.uses
    found = summarise_prepared(kept.prepared, pose, kept.document.site, known_clearance(kept, pose))
    return key, word_figures(found, units), {use.child: use for use in found.uses}


def _find_saved(kept: KeptDocument, pose: Pose, units: Units) -> PoseFigures:
    """Figures of a saved pose; one that cannot be computed does not hide the others."""
    figures, problem = attempt(lambda: find_figures(kept, pose, units))
    shown = replace(figures or word_failure(pose.name, problem), note=pose.note)
    if not pose.mounted:
        return shown
    moved, _ = attempt(lambda: list_moved(kept.document.skeleton, pose), problem)
    return replace(shown, moved=tuple(word_moved(own, units) for own in moved or ()))


def read_scene_pose(context: bpy.types.Context, kept: KeptDocument, name: str = LIVE) -> Pose:
    """The pose that the scene's rig holds; SkeletonError where there is no rig or it contradicts the document."""
    rig = require_rig(context.scene)
    depsgraph = context.evaluated_depsgraph_get()
    return read_live_pose(rig, kept.document.skeleton, kept.plan, depsgraph, context.scene, name)


def recover_scene_pose(context: bpy.types.Context, kept: KeptDocument) -> Pose:
    """The pose of a rig that is to be built again, as far as it holds one; neutral where there is no rig."""
    rig = context.scene.counterpoise.rig
    if rig is None:
        return Pose("neutral")
    depsgraph = context.evaluated_depsgraph_get()
    return recover_pose(rig, kept.document.skeleton, kept.plan, depsgraph, context.scene, LIVE)


def require_rig(scene: bpy.types.Scene) -> bpy.types.Object:
    """The scene's rig; SkeletonError where it is gone."""
    rig = scene.counterpoise.rig
    if rig is None or rig.type != "ARMATURE" or rig.name not in scene.objects:
        raise CounterpoiseError("scene", "the rig is gone", "undo its removal, or build it again from the document")
    return rig


def find_figures(kept: KeptDocument, pose: Pose, units: Units) -> PoseFigures:
    """Study a pose as a whole and put its figures into words; clearance where it is known already."""
    clearance = known_clearance(kept, pose)
    return word_figures(summarise_prepared(kept.prepared, pose, kept.document.site, clearance), units)


def _content(kept: KeptDocument, pose: Pose) -> Key:
    angles = tuple((child, values.tobytes()) for child, values in pose.angles_rad.items())
    return (kept.digest, pose.X_WN.tobytes(), angles, pose.idle_feet)
