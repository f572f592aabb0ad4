"""A joint's facets and limits found anew: with other settings, about a frame that the user moved, or from nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial.transform import Rotation

from ..articulation.column import ColumnAxes, column_axes
from ..articulation.column_joint import ASKS_FOR_HAND, LOOSE
from ..articulation.frames import JointFrame
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..skeleton.discs import find_disc_shifts, move_joint, put_discs_in, take_discs_out
from ..skeleton.element import Element
from ..skeleton.joint import Joint, LimitSettings
from ..skeleton.tree import Skeleton, build_skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array, apply, invert, make_transform, round_places
from .articulate import LIMB_SEARCH_RAD, SERIES_FROM_HEAD, lies_headward
from .joint_cache import JointCache, find_joint
from .joint_search import JointSearch, Way, describe_end, list_axes, list_rows
from .joints_by_hand import keep_turning, set_document_joint
from .marked_joints import mark_document_joint


def search_document_joint(
    document: SkeletonDocument,
    mesh_folder: Path,
    child: str,
    settings: LimitSettings | None = None,
    from_nothing: bool = False,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with one joint's facets and limits found anew; saved angles stay where it still turns.

    A facet marked by hand stays what the joint is found from, a frame moved by hand stays where it is, and a disc as
    thick as it was set.

    Parameters
    ----------
    settings : of the limits; the joint's own where None, else the defaults
    from_nothing : drop what was set by hand, also marks, also that it was fixed
    cache : joints found before; one that is there is taken from there

    Raises
    ------
    SkeletonError : no such child, the root; it was set by hand and is not to be dropped; it is no joint to look for
    DocumentError, MeshFileError : the two elements' files are missing, or others than the document was made from
    """
    scanned = replace(document, skeleton=take_discs_out(document.skeleton))
    joint = scanned.skeleton.joint_of(child)
    if not from_nothing and (why := name_hand(joint)):
        raise SkeletonError(f"joint of {child}", why, "search from nothing, which drops that")
    bare = replace(joint, marks=(), also=None, confidence="none") if from_nothing else joint
    settings = settings or default_settings(scanned.skeleton, joint)
    return exchange_joints(scanned, [search_scanned(scanned, mesh_folder, bare, settings, progress, cache)])


def place_document_joint(
    document: SkeletonDocument,
    mesh_folder: Path,
    child: str,
    X_WJ: Array,
    reason: str,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with a joint's frame moved by hand; its limits are found anew there, saved angles stay.

    Limits that were set by hand stay as they are.

    Parameters
    ----------
    X_WJ : (4, 4) in the world of the neutral articulation, as in `skeleton.joint`
    reason : why, in the user's words
    cache : as in `search_document_joint`

    Raises
    ------
    SkeletonError : as `search_document_joint`; no reason; its facets are not found, so that it has no limits there
    """
    scanned = replace(document, skeleton=take_discs_out(document.skeleton))
    joint = scanned.skeleton.joint_of(child)
    if not reason.strip():
        raise SkeletonError(f"joint of {child}", "its frame is moved without a reason", "write why")
    if joint.kind == "by hand" and joint.limits is not None:
        ends = [(limit.low.angle_rad, limit.high.angle_rad) for limit in joint.limits]
        return set_document_joint(document, child, X_WJ[:3, 3], X_WJ[:3, :3], ends, reason)
    require_placeable(joint)
    X_WJ = _take_back(document.skeleton, joint.parent, X_WJ)
    moved = replace(joint, X_WJ=X_WJ, confidence="by hand", reason=reason.strip())
    settings = default_settings(scanned.skeleton, joint)
    return exchange_joints(scanned, [search_scanned(scanned, mesh_folder, moved, settings, progress, cache)])


def _take_back(skeleton: Skeleton, parent: str, X_WJ: Array) -> Array:
    """A frame on a parent, where it would stand had no disc been set."""
    shift, X = find_disc_shifts(skeleton)[parent], np.array(X_WJ, float)
    if np.any(shift):
        X[:3, 3] = round_places(X[:3, 3] - shift)
    return X


def find_frame(joint: Joint, X_seen: ArrayLike, motion: ArrayLike, finest_m: float, finest_rad: float) -> Array:
    """(4, 4) X_WJ in the neutral articulation, for a joint's frame to stand in a pose where it is seen.

    Parameters
    ----------
    X_seen : (4, 4) the frame in the pose, nearly rigid [m]
    motion : (4, 4) of the joint's parent from the neutral articulation to the pose
    finest_m, finest_rad : a move or turn below this is none: what a drawing in single precision leaves open

    Returns
    -------
    The joint's own X_WJ where it is neither moved nor turned.
    """
    X = invert(motion) @ np.asarray(X_seen, float)
    turn = Rotation.from_matrix(X[:3, :3]) * Rotation.from_matrix(joint.X_WJ[:3, :3]).inv()
    turned = bool(turn.magnitude() > finest_rad)
    moved = bool(np.linalg.norm(X[:3, 3] - joint.X_WJ[:3, 3]) > finest_m)
    R = Rotation.from_matrix(X[:3, :3]).as_matrix() if turned else joint.X_WJ[:3, :3]
    return make_transform(R, X[:3, 3] if moved else joint.X_WJ[:3, 3])


def require_placeable(joint: Joint) -> None:
    """SkeletonError where a joint has no frame to move: nothing turns there, and nothing was looked for."""
    if joint.kind != "by hand" and (why := name_hand(joint)):
        raise SkeletonError(f"joint of {joint.child}", why, "set it by hand, with limits")


def name_hand(joint: Joint) -> str:
    """What of a joint was set by hand, so that a search would drop it; empty where nothing was."""
    if joint.kind == "by hand":
        return "it was set by hand"
    if joint.also is not None:
        return f"it follows {joint.parent} and {joint.also}"
    looked_for = joint.fit is not None or joint.facets or joint.marks or joint.reason.endswith((ASKS_FOR_HAND, LOOSE))
    if not joint.moves and (joint.confidence == "by hand" or not looked_for):
        return "it is fixed by the table or by hand"
    return ""


def default_settings(skeleton: Skeleton, joint: Joint) -> LimitSettings:
    """What a joint's limits were computed with; where they were not, the defaults of its kind."""
    if joint.settings is not None:
        return joint.settings
    limb = name_way(skeleton, joint) == "limb"
    return LimitSettings(search_rad=LIMB_SEARCH_RAD) if limb else LimitSettings()


def search_scanned(
    scanned: SkeletonDocument,
    mesh_folder: Path,
    joint: Joint,
    settings: LimitSettings,
    progress: Progress,
    cache: JointCache | None,
) -> Joint:
    """A joint found anew in a document whose discs have been taken out: from the marks, where it has any."""
    placed = JointFrame(joint.X_WJ, joint.senses, "by hand") if joint.confidence == "by hand" else None
    if joint.marks and not are_of_column(scanned.skeleton, joint):
        family = joint.fit.family if joint.fit is not None and joint.moves else None
        given = (scanned, mesh_folder, joint.child, joint.marks, family, settings, progress, placed, cache)
        found = mark_document_joint(*given).skeleton.joint_of(joint.child)
    else:
        found = find_joint(plan_search(scanned.skeleton, mesh_folder, joint, settings), mesh_folder, cache, progress)
    return complete_joint(scanned.skeleton, joint, found)


def plan_search(skeleton: Skeleton, mesh_folder: Path, joint: Joint, settings: LimitSettings) -> JointSearch:
    """All that the search for a joint depends on, in a skeleton whose discs have been taken out.

    A frame moved by hand stays. The joint's own disc, where it says that one is set, is in during the search.

    Raises
    ------
    SkeletonError : it is no joint to look for, or none that has a disc
    DocumentError : the two elements' files are missing, or others than the skeleton was made from
    """
    way = name_way(skeleton, joint)
    if way is None:
        what = f"no joint is looked for between {joint.parent} and {joint.child}"
        raise SkeletonError(f"joint of {joint.child}", what, "set it by hand, or mark a facet")
    ends = [skeleton.elements[skeleton.index(name)] for name in (joint.parent, joint.child)]
    if joint.disc is not None and way != "column":
        what = f"it is no joint between end plates, but a disc of {1000 * joint.disc.thickness_m:.4g} mm was set in it"
        raise SkeletonError(f"joint of {joint.child}", what, "set that disc back to as scanned first")
    require_files(ends, mesh_folder)
    if min(element.solid.volume_m3 for element in ends) <= 0:
        remedy = "close their surfaces, or set it by hand"
        raise SkeletonError(f"joint of {joint.child}", "one of its elements encloses no volume", remedy)
    described = [describe_end(element, _find_smallest(skeleton, element, joint)) for element in ends]
    search = JointSearch(described[0], described[1], way, settings, ends[1].side)
    if way == "column":
        disc_m = None if joint.disc is None else joint.disc.thickness_m
        axes = list_axes(find_axes(skeleton, joint))
        search = replace(search, headward=_lies_headward(skeleton, joint), axes=axes, disc_m=disc_m, marks=joint.marks)
    if joint.confidence == "by hand":
        search = replace(search, X_WJ=list_rows(joint.X_WJ), senses=joint.senses)
    return search


def complete_joint(skeleton: Skeleton, known: Joint, found: Joint) -> Joint:
    """A joint that was found, with what the user has said of it, in a skeleton whose discs have been taken out.

    What lies on the child is told as if its own disc had been taken out again; the shift is one in the parent's frame.

    Raises
    ------
    SkeletonError : its frame was moved by hand, and it has no limits there
    """
    if known.confidence == "by hand":
        found = _keep_reason(found, known.reason)
    if found.disc is None or known.disc is None:
        return found
    R_WP = skeleton.elements[skeleton.index(known.parent)].X_WE[:3, :3]
    shift = round_places(R_WP.T @ found.disc.shift_m)
    by_m = {found.parent: np.zeros(3), found.child: -round_places(R_WP @ shift)}
    return move_joint(replace(found, disc=replace(known.disc, shift_m=shift)), by_m)


def are_of_column(skeleton: Skeleton, joint: Joint) -> bool:
    """Whether a joint's marks are facets of vertebrae, and no surface that a limb's family is fitted to."""
    return name_way(skeleton, joint) == "column" and joint.fit is None


def _lies_headward(skeleton: Skeleton, joint: Joint) -> bool:
    parent, child = (skeleton.elements[skeleton.index(name)] for name in (joint.parent, joint.child))
    return lies_headward(child, parent)


def name_way(skeleton: Skeleton, joint: Joint) -> Way | None:
    """How a joint was looked for, or would be; None where none would."""
    parent, child = (skeleton.elements[skeleton.index(name)].series for name in (joint.parent, joint.child))
    if child == "ribs" and parent == "dorsal":
        return "rib"
    if joint.reason.endswith(LOOSE):
        return "column"
    if joint.kind == "column" or joint.kind == "limb":
        return joint.kind
    if parent in SERIES_FROM_HEAD and child in SERIES_FROM_HEAD:
        return "column"
    if joint.fit is not None or child == "limb":
        return "limb"
    return "column" if any(facet.kind != "articular surface" for facet in joint.facets) else None


def _find_smallest(skeleton: Skeleton, element: Element, searched: Joint) -> float:
    """Size of an element's smallest partner [m], as when all joints were looked for: its grid is as fine as then."""
    volumes = {own.name: own.solid.volume_m3 for own in skeleton.elements}
    sizes = [
        volumes[joint.parent if joint.child == element.name else joint.child]
        for joint in skeleton.joints
        if element.name in (joint.parent, joint.child) and (joint.child == searched.child or not name_hand(joint))
    ]
    return float(np.cbrt(min(size for size in sizes if size > 0)))


def find_axes(skeleton: Skeleton, joint: Joint) -> ColumnAxes:
    """Axes of the column at a joint: they follow those of the joint above, as far as that is the column's."""
    above = None
    if joint.parent != skeleton.root.name:
        parent = skeleton.joint_of(joint.parent)
        if name_way(skeleton, parent) == "column" and not name_hand(parent):
            above = find_axes(skeleton, parent)
    ends = [skeleton.elements[skeleton.index(name)] for name in (joint.child, joint.parent)]
    if not lies_headward(*ends):
        ends.reverse()
    headward, tailward = (apply(end.X_WE, end.solid.centre_m[None, :])[0] for end in ends)
    return column_axes(headward, tailward, above)


def _keep_reason(found: Joint, reason: str) -> Joint:
    """A joint about a frame that was moved by hand, with the user's reason; SkeletonError where it has no limits."""
    if not found.moves:
        raise SkeletonError(f"joint of {found.child}", f"no limits are found there: {found.reason}", "set it by hand")
    return replace(found, confidence="by hand", reason=reason)


def exchange_joints(scanned: SkeletonDocument, found: Sequence[Joint]) -> SkeletonDocument:
    """A document whose discs have been taken out, with joints found anew in place of its own, and the discs back in.

    Saved angles stay where a joint still turns.
    """
    skeleton = scanned.skeleton
    joints = {joint.child: joint for joint in skeleton.joints}
    for joint in found:
        known = joints[joint.child]
        joints[joint.child] = replace(joint, placing=known.placing, also_in_table=known.also_in_table)
    given = (skeleton.feet, skeleton.left_out)
    changed = put_discs_in(build_skeleton(skeleton.name, skeleton.elements, tuple(joints.values()), *given))
    return replace(scanned, skeleton=changed, poses=tuple(keep_turning(pose, changed) for pose in scanned.poses))
