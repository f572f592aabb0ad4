"""A joint's facets and limits found anew: with other settings, about a frame that the user moved, or from nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial.transform import Rotation

from ..articulation.column import ColumnAxes, column_axes
from ..articulation.column_joint import ASKS_FOR_HAND
from ..articulation.frames import JointFrame
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..skeleton.element import Element
from ..skeleton.joint import Joint, LimitSettings
from ..skeleton.tree import Skeleton, build_skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array, apply, invert, make_transform
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

    A facet marked by hand stays what the joint is found from, a frame moved by hand stays where it is.

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
    joint = document.skeleton.joint_of(child)
    if not from_nothing and (why := name_hand(joint)):
        raise SkeletonError(f"joint of {child}", why, "search from nothing, which drops that")
    keeps_frame = joint.confidence == "by hand" and not from_nothing
    placed = JointFrame(joint.X_WJ, joint.senses, "by hand") if keeps_frame else None
    bare = replace(joint, marks=(), also=None) if from_nothing else joint
    settings = settings or default_settings(document.skeleton, joint)
    found = _search(document, mesh_folder, bare, settings, placed, progress, cache)
    if keeps_frame:
        found = _keep_reason(found, joint.reason)
    return _exchange(document, found)


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
    joint = document.skeleton.joint_of(child)
    if not reason.strip():
        raise SkeletonError(f"joint of {child}", "its frame is moved without a reason", "write why")
    if joint.kind == "by hand" and joint.limits is not None:
        ends = [(limit.low.angle_rad, limit.high.angle_rad) for limit in joint.limits]
        return set_document_joint(document, child, X_WJ[:3, 3], X_WJ[:3, :3], ends, reason)
    require_placeable(joint)
    placed = JointFrame(np.asarray(X_WJ, float), joint.senses, "by hand")
    settings = default_settings(document.skeleton, joint)
    found = _search(document, mesh_folder, joint, settings, placed, progress, cache)
    return _exchange(document, _keep_reason(found, reason.strip()))


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
    looked_for = joint.fit is not None or joint.facets or joint.marks or joint.reason.endswith(ASKS_FOR_HAND)
    if not joint.moves and (joint.confidence == "by hand" or not looked_for):
        return "it is fixed by the table or by hand"
    return ""


def default_settings(skeleton: Skeleton, joint: Joint) -> LimitSettings:
    """What a joint's limits were computed with; where they were not, the defaults of its kind."""
    if joint.settings is not None:
        return joint.settings
    limb = _name_way(skeleton, joint) == "limb"
    return LimitSettings(search_rad=LIMB_SEARCH_RAD) if limb else LimitSettings()


def _search(
    document: SkeletonDocument,
    mesh_folder: Path,
    joint: Joint,
    settings: LimitSettings,
    placed: JointFrame | None,
    progress: Progress,
    cache: JointCache | None,
) -> Joint:
    """The joint as its facets tell it: from the marks, where it has any."""
    skeleton = document.skeleton
    if joint.marks:
        family = joint.fit.family if joint.fit is not None and joint.moves else None
        given = (document, mesh_folder, joint.child, joint.marks, family, settings, progress, placed)
        return mark_document_joint(*given).skeleton.joint_of(joint.child)
    way = _name_way(skeleton, joint)
    if way is None:
        what = f"no joint is looked for between {joint.parent} and {joint.child}"
        raise SkeletonError(f"joint of {joint.child}", what, "set it by hand, or mark a facet")
    ends = [skeleton.elements[skeleton.index(name)] for name in (joint.parent, joint.child)]
    require_files(ends, mesh_folder)
    if min(element.solid.volume_m3 for element in ends) <= 0:
        remedy = "close their surfaces, or set it by hand"
        raise SkeletonError(f"joint of {joint.child}", "one of its elements encloses no volume", remedy)
    described = [describe_end(element, _find_smallest(skeleton, element, joint)) for element in ends]
    search = JointSearch(described[0], described[1], way, settings, ends[1].side)
    if way == "column":
        axes = list_axes(_find_axes(skeleton, joint))
        search = replace(search, headward=lies_headward(ends[1], ends[0]), axes=axes)
    if placed is not None:
        search = replace(search, X_WJ=list_rows(placed.X_WJ), senses=placed.senses)
    return find_joint(search, mesh_folder, cache, progress)


def _name_way(skeleton: Skeleton, joint: Joint) -> Way | None:
    """How a joint was looked for, or would be; None where none would."""
    parent, child = (skeleton.elements[skeleton.index(name)].series for name in (joint.parent, joint.child))
    if child == "ribs" and parent == "dorsal":
        return "rib"
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


def _find_axes(skeleton: Skeleton, joint: Joint) -> ColumnAxes:
    """Axes of the column at a joint: they follow those of the joint above, as far as that is the column's."""
    above = None
    if joint.parent != skeleton.root.name:
        parent = skeleton.joint_of(joint.parent)
        if _name_way(skeleton, parent) == "column" and not name_hand(parent):
            above = _find_axes(skeleton, parent)
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


def _exchange(document: SkeletonDocument, found: Joint) -> SkeletonDocument:
    skeleton = document.skeleton
    known = skeleton.joint_of(found.child)
    found = replace(found, placing=known.placing, also_in_table=known.also_in_table)
    joints = tuple(found if one.child == found.child else one for one in skeleton.joints)
    changed = build_skeleton(skeleton.name, skeleton.elements, joints, skeleton.feet, skeleton.left_out)
    return replace(document, skeleton=changed, poses=tuple(keep_turning(pose, changed) for pose in document.poses))
