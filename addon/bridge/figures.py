"""Figures of the live pose and of every saved one, ready to be shown: computed outside drawing, kept by content."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

import bpy

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.acting import Shown
from ..core_calcs.studies.assess import assess_prepared
from ..core_calcs.studies.assessment import Assessment, JointUse
from ..core_calcs.studies.comparison import Measured, measure_pose
from ..core_calcs.studies.mounted import list_moved
from ..core_calcs.studies.places_by_hand import list_placed
from ..translations.phrases import name_language, say, tell_error
from .balance_text import BalanceFigures, word_balance
from .clearance import find_known, known_clearance
from .figure_text import (
    NOT_KNOWN,
    Finding,
    HitFigure,
    PlacedFigure,
    PoseFigures,
    word_failure,
    word_figures,
    word_moved,
    word_placed,
)
from .kept_document import KeptDocument, drop_documents, keep_document
from .motions import read_live_pose, recover_pose
from .units import Units, scene_units
from .wind import known_acting, known_shown

LIVE = "live pose"

Found = TypeVar("Found")

Key = tuple[object, ...]
"""The content that figures were computed from."""


@dataclass(frozen=True, eq=False)
class Studied:
    """The live pose as it was studied, and in words.

    uses : how it uses each joint, by its child; shown : what it shows to the wind; None: not measured
    """

    key: Key
    pose: Pose
    found: Assessment
    figures: PoseFigures
    balance: BalanceFigures
    uses: dict[str, JointUse]
    shown: Shown | None


@dataclass
class _Shown:
    """What panel and view show of one skeleton, and the content that it was computed from.

    kept : the document; live : the live pose; measured : what is compared of each saved pose, by its name
    before : by name what each check of the live pose said when it was known last; hits_before : what ran into what then
    """

    problem: str = ""
    live: Studied | None = None
    saved_key: Key = ()
    saved: tuple[PoseFigures, ...] = ()
    measured: dict[str, Measured] = field(default_factory=dict)
    placed: tuple[PlacedFigure, ...] = ()
    straddling: tuple[tuple[str, str], ...] = ()
    kept: KeptDocument | None = None
    allowed: str = ""
    followed: bool = False
    before: dict[str, Finding] = field(default_factory=dict)
    hits_before: tuple[HitFigure, ...] = ()

    @property
    def seen(self) -> tuple[object, ...]:
        """What changes the picture when it changes."""
        return (
            self.problem,
            self.live,
            self.saved,
            self.placed,
            self.straddling,
            self.allowed,
            self.followed,
        )


Place = tuple[int, int]
"""Scene and text block, by the numbers that they keep for a session, whatever they are called."""

_shown: dict[Place, _Shown] = {}
"""The keys within tell whether the content is still the same."""


_earlier: dict[Place, _Shown] = {}
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
    shown, current = _drawn(scene)
    return (None if shown.live is None else shown.live.figures), shown.saved, current


def drawn_live(scene: bpy.types.Scene) -> tuple[KeptDocument | None, Studied | None]:
    """The document as it was last read, and the live pose as it was studied; to draw, be they of before."""
    shown, _ = _drawn(scene)
    return shown.kept, shown.live


def drawn_measures(scene: bpy.types.Scene) -> dict[str, Measured]:
    """What is compared of each saved pose, by its name; to draw, be it of before."""
    return _drawn(scene)[0].measured


def drawn_places(scene: bpy.types.Scene) -> tuple[tuple[PlacedFigure, ...], tuple[tuple[str, str], ...]]:
    """The elements placed by hand, and those that follow two others, in words; to draw, be they of before."""
    shown, _ = _drawn(scene)
    return shown.placed, shown.straddling


def drawn_joints(scene: bpy.types.Scene) -> tuple[KeptDocument | None, dict[str, JointUse]]:
    """The document as it was last read, and how the live pose uses its joints; to draw, be they of before."""
    shown, _ = _drawn(scene)
    return shown.kept, {} if shown.live is None else shown.live.uses


def drawn_before(scene: bpy.types.Scene) -> tuple[dict[str, Finding], tuple[HitFigure, ...]]:
    """What the checks of the live pose said when they were last known, by name, and what ran into what then."""
    shown, _ = _drawn(scene)
    return shown.before, shown.hits_before


def drawn_clearance(scene: bpy.types.Scene) -> tuple[str, bool]:
    """How deep elements may run into each other, in words, and whether clearance follows the pose."""
    shown, _ = _drawn(scene)
    return shown.allowed, shown.followed


def _drawn(scene: bpy.types.Scene) -> tuple[_Shown, bool]:
    """What is shown, and whether it is up to date."""
    place = _place_of(scene)
    known = place in _shown
    return (_shown if known else _earlier).get(place, _Shown()), known


def live_figures(scene: bpy.types.Scene | None = None) -> PoseFigures | None:
    """Of the pose the rig holds; None where not computed (yet). Without a scene: the context's."""
    live = _of(scene or bpy.context.scene).live
    return None if live is None else live.figures


def saved_figures(scene: bpy.types.Scene | None = None) -> tuple[PoseFigures, ...]:
    """Of every saved pose, in the document's order. Without a scene: the context's."""
    return _of(scene or bpy.context.scene).saved


def current_problem(scene: bpy.types.Scene | None = None) -> str:
    """Why there are no live figures; empty where there are. Without a scene: the context's."""
    return _of(scene or bpy.context.scene).problem


def is_unreadable(scene: bpy.types.Scene) -> bool:
    """Whether the scene's document could not be read, so that nothing is known of what it holds."""
    shown = _of(scene)
    return shown.kept is None and bool(shown.problem)


def _of(scene: bpy.types.Scene) -> _Shown:
    return _shown.get(_place_of(scene), _Shown())


def _place_of(scene: bpy.types.Scene) -> Place:
    text = scene.counterpoise.document
    return scene.session_uid, text.session_uid if text else 0


def refresh_figures(context: bpy.types.Context) -> bool:
    """Compute what is missing for the context's scene; True where something shown has changed.

    What cannot be computed is shown as not known, with the reason.
    """
    scene, text = context.scene, context.scene.counterpoise.document
    if text is None:
        return False
    place = _place_of(scene)
    shown = _shown.setdefault(place, _Shown())
    before = shown.seen
    kept, problem = attempt(lambda: keep_document(scene), shown.problem)
    if kept is None:
        _shown[place] = shown = _Shown(problem)
        return before != shown.seen
    shown.kept, units = kept, scene_units(scene)
    poses = kept.document.poses
    saved_key = (
        kept.digest,
        units,
        name_language(),
        *((known_clearance(kept, pose), known_shown(kept, pose)) for pose in poses),
    )
    if shown.saved_key != saved_key:
        shown.measured = {}
        shown.saved = tuple(_find_saved(kept, pose, units, shown.measured) for pose in poses)
        shown.placed = tuple(word_placed(placed, units) for placed in list_placed(kept.document.skeleton))
        joints = kept.document.skeleton.joints
        shown.straddling = tuple((own.child, f"{own.parent}, {own.also}") for own in joints if own.also is not None)
        shown.saved_key = saved_key
        shown.allowed = say("Allowed {percent} %", percent=f"{100 * kept.document.site.clearance_share_s:.3g}")
    shown.followed = find_known(kept) is not None
    shown.live, shown.problem = attempt(lambda: _find_live(context, kept, shown.live), shown.problem)
    if shown.live is not None:
        figures = shown.live.figures
        shown.before |= {own.name: own for own in figures.findings if own.state != NOT_KNOWN}
        shown.hits_before = shown.hits_before if figures.hits is None else figures.hits
    return before != shown.seen


def attempt(compute: Callable[[], Found], known: str = "") -> tuple[Found | None, str]:
    """What was computed, and no problem; else nothing, and the problem in plain words.

    The traceback of a fault that nobody foresaw goes to the console, unless that problem is known already.
    """
    try:
        return compute(), ""
    except CounterpoiseError as error:
        return None, tell_error(error)
    except Exception as error:  # noqa: BLE001  whatever fails, no figure may be shown that is out of date
        fault = f"{type(error).__name__}: {error}"
        problem = say("{fault}. This is a fault of the add-on; the console says more", fault=fault)
        if problem != known:
            traceback.print_exception(error)
        return None, problem


def _find_live(context: bpy.types.Context, kept: KeptDocument, before: Studied | None) -> Studied:
    """The live pose studied, or what it was before where it is the same."""
    pose, units = read_scene_pose(context, kept), scene_units(context.scene)
    key = (*_content(kept, pose), units, name_language(), known_clearance(kept, pose), known_shown(kept, pose))
    if before is not None and before.key == key:
        return before
    found = _assess(kept, pose)
    figures = word_figures(found, units)
    balance = word_balance(found, kept.chains, kept.document.site.factors, units)
    uses = {use.child: use for use in found.uses}
    return Studied(key, pose, found, figures, balance, uses, known_shown(kept, pose))


def _find_saved(kept: KeptDocument, pose: Pose, units: Units, measured: dict[str, Measured]) -> PoseFigures:
    """Figures of a saved pose, and its measures; one that cannot be computed does not hide the others."""
    found, problem = attempt(lambda: _assess(kept, pose))
    if found is not None:
        measured[pose.name] = measure_pose(kept.chains, found)
    shown = replace(word_failure(pose.name, problem) if found is None else word_figures(found, units), note=pose.note)
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


def _assess(kept: KeptDocument, pose: Pose) -> Assessment:
    """Study a pose as a whole; clearance, and what it shows to the wind, where they are known already."""
    clearance, acting = known_clearance(kept, pose), known_acting(kept, pose)
    return assess_prepared(kept.prepared, pose, kept.document.site, clearance, acting, with_case_feet=False)


def _content(kept: KeptDocument, pose: Pose) -> Key:
    angles = tuple((child, values.tobytes()) for child, values in pose.angles_rad.items())
    return (kept.digest, pose.X_WN.tobytes(), angles, pose.idle_feet)
