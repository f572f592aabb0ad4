"""Figures of the live pose and of every saved one, ready to be shown: computed outside drawing, kept by content."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import bpy

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.assess import summarise_prepared
from ..core_calcs.studies.assessment import Check, Summary
from ..core_calcs.studies.checks import ANGLE_ROUNDING_RAD
from .kept_document import KeptDocument, drop_documents, keep_document
from .motions import read_live_pose

NOT_KNOWN = "not known"
LIVE = "live pose"


@dataclass(frozen=True)
class Finding:
    """A check in words: its state is one of holds, close, fails, not known."""

    name: str
    state: str
    text: str


@dataclass(frozen=True)
class PoseFigures:
    """The figures of one pose in words."""

    pose: str
    mass: str
    centre: str
    base_moment: str
    margin: str
    tip_angle: str
    beyond: str
    findings: tuple[Finding, ...]

    @property
    def state(self) -> str:
        """The worst state among the findings."""
        return max((finding.state for finding in self.findings), key=WORSE.index, default=NOT_KNOWN)


WORSE = ["holds", "close", NOT_KNOWN, "fails"]


@dataclass
class _Shown:
    """What the panel shows; stale: the scene has changed since."""

    stale: bool = True
    problem: str = ""
    live_key: tuple[object, ...] = ()
    live: PoseFigures | None = None
    saved_key: str = ""
    saved: tuple[PoseFigures, ...] = ()


_shown = _Shown()


def drop_figures() -> None:
    """Forget all results: after undo, load, or a change of the document."""
    global _shown
    _shown = _Shown()
    drop_documents()


def mark_stale() -> None:
    """Say that the live pose may have changed."""
    _shown.stale = True


def live_figures() -> PoseFigures | None:
    """Of the pose the rig holds; None where not computed (yet)."""
    return _shown.live


def saved_figures() -> tuple[PoseFigures, ...]:
    """Of every saved pose, in the document's order."""
    return _shown.saved


def current_problem() -> str:
    """Why there are no figures; empty where there are."""
    return _shown.problem


def refresh_figures(context: bpy.types.Context) -> bool:
    """Compute what is missing; True where something shown has changed."""
    before = (_shown.problem, _shown.live, _shown.saved)
    _shown.stale = False
    scene = context.scene
    if scene.counterpoise.document is None:
        _shown.problem, _shown.live, _shown.saved = "", None, ()
        _shown.live_key, _shown.saved_key = (), ""
        return before != (_shown.problem, _shown.live, _shown.saved)
    try:
        kept = keep_document(scene)
        if _shown.saved_key != kept.digest:
            _shown.saved = tuple(find_figures(kept, pose) for pose in kept.document.poses)
            _shown.saved_key = kept.digest
        pose = read_scene_pose(context, kept)
        key = _content(kept, pose)
        if _shown.live_key != key:
            _shown.live, _shown.live_key = find_figures(kept, pose), key
        _shown.problem = ""
    except CounterpoiseError as error:
        _shown.problem, _shown.live, _shown.live_key = str(error), None, ()
    return before != (_shown.problem, _shown.live, _shown.saved)


def read_scene_pose(context: bpy.types.Context, kept: KeptDocument, name: str = LIVE) -> Pose:
    """The pose that the scene's rig holds; SkeletonError where there is no rig or it contradicts the document."""
    rig = require_rig(context.scene)
    depsgraph = context.evaluated_depsgraph_get()
    return read_live_pose(rig, kept.document.skeleton, kept.plan, depsgraph, context.scene, name)


def require_rig(scene: bpy.types.Scene) -> bpy.types.Object:
    """The scene's rig; SkeletonError where it is gone."""
    rig = scene.counterpoise.rig
    if rig is None or rig.type != "ARMATURE" or rig.name not in scene.objects:
        raise CounterpoiseError("scene", "the rig is gone", "undo its removal, or build it again from the document")
    return rig


def find_figures(kept: KeptDocument, pose: Pose) -> PoseFigures:
    """Study a pose as a whole and put its figures into words."""
    return _word_figures(summarise_prepared(kept.prepared, pose, kept.document.site))


def _content(kept: KeptDocument, pose: Pose) -> tuple[object, ...]:
    angles = tuple((child, values.tobytes()) for child, values in pose.angles_rad.items())
    return (kept.digest, pose.X_WN.tobytes(), angles)


def _word_figures(found: Summary) -> PoseFigures:
    unknown = sum(use.beyond_rad is None for use in found.uses)
    beyond = sum(bool((use.beyond_rad > ANGLE_ROUNDING_RAD).any()) for use in found.uses if use.beyond_rad is not None)
    limits = f"{beyond} of {len(found.uses) - unknown}" + (f", {unknown} {NOT_KNOWN}" if unknown else "")
    return PoseFigures(
        pose=found.pose,
        mass=f"{found.mass_kg:.4g} ± {found.mass_doubt_kg:.2g} kg",
        centre=_word_vector(found.centre_m, 3) + " m",
        base_moment=_word_moment(found.base_moment_Nm[:2]),
        margin=NOT_KNOWN if found.distance_margin_m is None else f"{found.distance_margin_m * 1000:.0f} mm",
        tip_angle=NOT_KNOWN if found.tip_angle_rad is None else f"{math.degrees(found.tip_angle_rad):.1f}°",
        beyond=limits,
        findings=tuple(Finding(check.name, check.state, _word_check(check)) for check in found.checks),
    )


def _word_vector(values: Sequence[float], decimals: int) -> str:
    return ", ".join(f"{round(float(value), decimals) + 0.0:.{decimals}f}" for value in values)


def _word_moment(moment_Nm: Sequence[float]) -> str:
    """In kN·m from a thousand on; as many decimals as three figures of the greater one need."""
    greatest = max(abs(float(value)) for value in moment_Nm)
    unit, share = ("kN·m", 1e-3) if greatest >= 1000 else ("N·m", 1.0)
    decimals = min(3, max(0, 2 - math.floor(math.log10(max(greatest * share, 1e-3)))))
    return f"{_word_vector([value * share for value in moment_Nm], decimals)} {unit}"


def _word_check(check: Check) -> str:
    if check.state == NOT_KNOWN:
        return check.missing
    figure = "" if check.figure is None else _word_figure(check.figure, check.unit)
    return ", ".join(part for part in (figure, check.place) if part)


def _word_figure(figure: float, unit: str) -> str:
    """A figure with its unit: lengths in millimetres, angles in degrees, a tenth is enough of either."""
    if unit == "m":
        return f"{round(figure * 1000, 1) + 0.0:.1f} mm"
    if unit == "deg":
        return f"{round(figure, 1) + 0.0:.1f}°"
    return f"{figure:.3g} {unit}".strip()
