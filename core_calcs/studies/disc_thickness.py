"""How thick the discs of a column are at neutral: as the gaps were scanned, or as the user says, with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..articulation.disc_spacing import find_disc_shift, require_thickness, widen_gap
from ..build.parts import list_parts
from ..document.document import SkeletonDocument
from ..skeleton.discs import take_discs_out
from ..skeleton.element import Series
from ..skeleton.joint import DiscThickness, Facet, Joint
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array, round_places
from .articulate import lies_headward
from .joint_cache import JointCache
from .joint_workers import begin_searches
from .searched_joints import complete_joint, default_settings, exchange_joints, find_axes, plan_search


@dataclass(frozen=True)
class ToldThickness:
    """What the user says of a disc: in metres, or as a share of the joint's size s; one of the two."""

    thickness_m: float | None = None
    share_s: float | None = None


@dataclass(frozen=True)
class JointDisc:
    """How thick a joint's disc is at neutral, and was as scanned [m].

    reason : the user's; empty where it is as scanned
    """

    child: str
    parent: str
    thickness_m: float
    scanned_m: float
    is_set: bool
    reason: str


def list_discs(skeleton: Skeleton) -> tuple[JointDisc, ...]:
    """Every joint between end plates, in the skeleton's order."""
    return tuple(_measure(skeleton, joint) for joint in skeleton.joints if joint.gap_m is not None)


def list_disc_joints(skeleton: Skeleton) -> tuple[str, ...]:
    """Children of the joints whose disc's thickness can be set, in the skeleton's order."""
    return tuple(joint.child for joint in skeleton.joints if not name_lack(joint))


def choose_discs(skeleton: Skeleton, series: Sequence[Series], were_set: bool) -> tuple[str, ...]:
    """Children of all joints of some series (none: of the whole column) whose disc's thickness can be set, or was.

    Raises
    ------
    SkeletonError : there are none
    """
    own = {element.name: element.series for element in skeleton.elements}
    if were_set:
        likely = tuple(joint.child for joint in skeleton.joints if joint.disc is not None)
    else:
        likely = list_disc_joints(skeleton)
    found = tuple(child for child in likely if not series or own[child] in series)
    if not found:
        what = "no disc is set there" if were_set else "there is no joint whose disc could be set"
        raise SkeletonError(", ".join(series) or "column", what, "look at how thick each disc is")
    return found


def name_lack(joint: Joint) -> tuple[str, str] | None:
    """Why the thickness of a joint's disc cannot be set, and what to do; None where it can."""
    on = {plate.element for plate in joint.end_plates}
    if on != {joint.parent, joint.child} or len(joint.end_plates) != len(on):
        return "it has no end plates on both elements, so that no disc is known there", "name a joint between vertebrae"
    if not joint.moves:
        return "it is fixed", "search for it from nothing, or set it by hand, first"
    if joint.placing is not None:
        return f"{joint.child} was placed by hand", "put it back to where it was scanned first"
    return None


def set_discs_thickness(
    document: SkeletonDocument,
    mesh_folder: Path,
    children: Sequence[str],
    told: ToldThickness,
    reason: str,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with discs of some joints as thick as said at neutral; limits are found anew there.

    Each child is moved along the column with all that hangs on it, so that the mean gap of the end plates is the
    disc's thickness. Angles of poses stay, frames and limits set by hand too, each where it is on the parent.

    Parameters
    ----------
    children : of the joints
    reason : why, in the user's words
    cache : joints found before, which are taken from there; those found now are added

    Raises
    ------
    SkeletonError : no such child, the root, a joint without end plates, fixed or placed by hand; no reason; a
        thickness that no disc has, or at which the joint's facets do not lie over each other
    DocumentError, MeshFileError : files are missing, or others than the document was made from
    """
    _require_children(children)
    if not reason.strip():
        raise SkeletonError("disc", "its thickness is set without a reason", "write why")
    scanned = replace(document, skeleton=take_discs_out(document.skeleton))
    asked = []
    for child in children:
        joint = scanned.skeleton.joint_of(child)
        if lack := name_lack(joint):
            raise SkeletonError(f"joint of {child}", *lack)
        thickness = _in_metres(scanned.skeleton, joint, told)
        require_thickness(child, thickness, find_size(scanned.skeleton, joint))
        asked.append((joint, DiscThickness(thickness, np.zeros(3), reason.strip())))
    return _exchange(scanned, mesh_folder, asked, progress, cache)


def restore_discs(
    document: SkeletonDocument,
    mesh_folder: Path,
    children: Sequence[str],
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with discs of some joints as thick as the gap that was scanned: what it was before they were set.

    cache : as in `set_discs_thickness`

    Raises
    ------
    SkeletonError : no such child, the root, a joint whose disc's thickness was not set
    DocumentError, MeshFileError : files are missing, or others than the document was made from
    """
    _require_children(children)
    scanned = replace(document, skeleton=take_discs_out(document.skeleton))
    joints = [scanned.skeleton.joint_of(child) for child in children]
    for joint in joints:
        if joint.disc is None:
            remedy = "name one whose thickness was set"
            raise SkeletonError(f"joint of {joint.child}", "its disc is as scanned", remedy)
    return _exchange(scanned, mesh_folder, [(joint, None) for joint in joints], progress, cache)


def find_size(skeleton: Skeleton, joint: Joint) -> float:
    """Size s of a joint [m]: the cube root of its smaller element's volume."""
    volumes = [skeleton.elements[skeleton.index(name)].solid.volume_m3 for name in (joint.parent, joint.child)]
    return float(np.cbrt(max(min(volumes), 0.0)))


def describe_growth(discs: Sequence[JointDisc]) -> str:
    """By how much the discs that were set make the column longer or shorter, in a sentence."""
    told = [disc for disc in discs if disc.is_set]
    if not told:
        return "All discs are as thick as the gaps that were scanned."
    grown = 1000 * sum(disc.thickness_m - disc.scanned_m for disc in told)
    discs_set = "1 disc is set" if len(told) == 1 else f"{len(told)} discs are set"
    return f"{discs_set}: together {abs(grown):.1f} mm {'thicker' if grown >= 0 else 'thinner'} than as scanned."


def describe_overlaps(skeleton: Skeleton, children: Sequence[str]) -> tuple[str, ...]:
    """A sentence for every facet of these joints that runs into its partner at neutral."""
    return tuple(
        f"{child}: at neutral the {facet.kind} of {facet.element} runs {-1000 * facet.gap_m:.1f} mm into its partner."
        for child in children
        for facet in skeleton.joint_of(child).facets
        if facet.gap_m < 0 and facet.confidence != "ambiguous"
    )


def _require_children(children: Sequence[str]) -> None:
    if not children:
        raise SkeletonError("disc", "no joint is named whose disc is meant", "name one")


def _in_metres(skeleton: Skeleton, joint: Joint, told: ToldThickness) -> float:
    if told.thickness_m is not None and told.share_s is None:
        return told.thickness_m
    if told.share_s is not None and told.thickness_m is None:
        return told.share_s * find_size(skeleton, joint)
    raise SkeletonError(
        f"joint of {joint.child}", "the thickness of its disc is given twice or not at all", "give one figure"
    )


def _exchange(
    scanned: SkeletonDocument,
    mesh_folder: Path,
    asked: Sequence[tuple[Joint, DiscThickness | None]],
    progress: Progress,
    cache: JointCache | None,
) -> SkeletonDocument:
    """Joints with other discs, or as scanned, in a document whose discs have been taken out; limits are found anew."""
    skeleton = scanned.skeleton
    by_hand = [_change_by_hand(skeleton, joint, disc) for joint, disc in asked if joint.kind != "column"]
    others = [replace(joint, disc=disc) for joint, disc in asked if joint.kind == "column"]
    searches = [plan_search(skeleton, mesh_folder, own, default_settings(skeleton, own)) for own in others]
    with begin_searches(searches, mesh_folder, cache) as finish:
        found = finish(progress)
    changed = exchange_joints(scanned, [*by_hand, *(complete_joint(skeleton, o, found[o.child]) for o in others)])
    list_parts(changed.skeleton, changed.build)  # a disc of the build that has no room there is told now
    return changed


def _change_by_hand(skeleton: Skeleton, joint: Joint, disc: DiscThickness | None) -> Joint:
    """The same of a joint that was set or fixed by hand: its child moves, its frame and limits stay."""
    parent, child = (skeleton.elements[skeleton.index(name)] for name in (joint.parent, joint.child))
    R_WP = parent.X_WE[:3, :3]
    bare = joint if joint.disc is None else _widen(joint, -R_WP @ joint.disc.shift_m)
    if disc is None:
        return replace(bare, disc=None)
    on_parent, on_child = sorted(bare.end_plates, key=lambda plate: plate.element == joint.child)
    along = find_axes(skeleton, joint).head * (1 if lies_headward(child, parent) else -1)
    shift_m = round_places(R_WP.T @ find_disc_shift(on_parent, on_child, along, disc.thickness_m))
    return replace(_widen(bare, R_WP @ shift_m), disc=replace(disc, shift_m=shift_m))


def _widen(joint: Joint, shift_m: Array) -> Joint:
    """A joint whose facets' gaps are those after its child has been moved by `shift_m` (3,) in the world."""

    def widen(facet: Facet) -> Facet:
        return replace(facet, gap_m=float(round_places(widen_gap(facet, shift_m, facet.element == joint.child))))

    return replace(joint, facets=tuple(widen(facet) for facet in joint.facets))


def _measure(skeleton: Skeleton, joint: Joint) -> JointDisc:
    thickness = joint.gap_m or 0.0
    if joint.disc is None:
        return JointDisc(joint.child, joint.parent, thickness, thickness, False, "")
    R_WP = skeleton.elements[skeleton.index(joint.parent)].X_WE[:3, :3]
    bare = _widen(joint, -R_WP @ joint.disc.shift_m)
    return JointDisc(joint.child, joint.parent, joint.disc.thickness_m, bare.gap_m or 0.0, True, joint.disc.reason)
