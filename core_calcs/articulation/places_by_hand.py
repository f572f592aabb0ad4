"""Places given by the user: what no bone of a joint holds in place is moved and turned against its parent.

A correction of the articulation, not a pose: all that hangs on the element moves along as one rigid whole, joints and
their limits included, and no angle changes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from ..skeleton.discs import find_disc_shifts, put_discs_in, take_discs_out
from ..skeleton.element import Element
from ..skeleton.joint import Joint, Placing
from ..skeleton.motions import move_facet, move_limits
from ..skeleton.tree import Skeleton, build_skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, invert, is_rigid

FREE_KINDS = ("fixed", "by hand")
"""Kinds of joint whose child stands where it was put: no bone of a joint says where."""


def place_element(skeleton: Skeleton, name: str, X_WE: ArrayLike, reason: str) -> Skeleton:
    """Give an element another place in the neutral articulation, with all that hangs on it.

    Parameters
    ----------
    X_WE : (4, 4) from the element's frame to the world of the neutral articulation [m]
    reason : why, in the user's words

    Returns
    -------
    A new skeleton; the joint keeps where the element was scanned. A facet of this joint goes with the element that it
    lies on, and its gap stays what was measured on the scans.

    Raises
    ------
    SkeletonError : no such element, the root, a joint whose bones say where the element stands, one whose disc's
        thickness was set, no reason, a place that is not rigid
    """
    joint = require_free(skeleton, name)
    if not reason.strip():
        raise SkeletonError(name, "it is placed by hand without a reason", "write why")
    if not is_rigid(X_WE):
        raise SkeletonError(name, "its place is not a rigid transform", "move and turn it, but do not scale or mirror")
    scanned = joint.placing.X_PE if joint.placing else _place_on_parent(skeleton, joint)
    return _move(skeleton, joint, np.asarray(X_WE, float), Placing(scanned, reason.strip()))


def restore_place(skeleton: Skeleton, name: str) -> Skeleton:
    """Put an element, with all that hangs on it, back to where it was scanned against its parent.

    Raises
    ------
    SkeletonError : no such element, the root, one that was not placed by hand, or whose joint's bones hold it
    """
    joint = require_free(skeleton, name)
    if joint.placing is None:
        raise SkeletonError(name, "it stands where it was scanned", "choose one that was placed by hand")
    return _move(skeleton, joint, scanned_place(skeleton, joint), None)


def straddle(skeleton: Skeleton, child: str, also: str | None) -> Skeleton:
    """Let a fixed element follow a second one besides its parent, half and half; None: its parent alone again.

    Its load still goes to its parent. Where discs have moved the two apart it goes to the middle of where they take it.

    Raises
    ------
    SkeletonError : no such child, the root, a joint that turns, a second element that is not there, is the parent,
        hangs on the child, or on another that straddles two
    """
    scanned = take_discs_out(skeleton)
    joint = replace(scanned.joint_of(child), also=also)
    joints = tuple(joint if own.child == child else own for own in scanned.joints)
    return put_discs_in(build_skeleton(skeleton.name, scanned.elements, joints, skeleton.feet, skeleton.left_out))


def is_free(joint: Joint) -> bool:
    """Whether the child of a joint may be placed by hand."""
    return joint.kind in FREE_KINDS and joint.disc is None


def require_free(skeleton: Skeleton, name: str) -> Joint:
    """The joint of an element that may be placed by hand; SkeletonError where it may not, or there is none."""
    joint = skeleton.joint_of(name)
    if joint.kind not in FREE_KINDS:
        what = f"where it stands follows from the bones of its joint with {joint.parent}"
        raise SkeletonError(name, what, "fix that joint first, with a reason, or place what hangs without one")
    if joint.disc is not None:
        what = f"where it stands follows from the disc that was set between it and {joint.parent}"
        raise SkeletonError(name, what, "set that disc back to as scanned first")
    return joint


def scanned_place(skeleton: Skeleton, joint: Joint) -> Array:
    """(4, 4) X_WE at which the joint's child stands as scanned, its parent where it is now."""
    X_WP = skeleton.elements[skeleton.index(joint.parent)].X_WE
    if joint.placing is None:
        return skeleton.elements[skeleton.index(joint.child)].X_WE
    X_WE: Array = X_WP @ joint.placing.X_PE
    X_WE[:3, 3] += _find_own_shift(skeleton, joint)
    return X_WE


def _place_on_parent(skeleton: Skeleton, joint: Joint) -> Array:
    X_WP, X_WE = (skeleton.elements[skeleton.index(name)].X_WE.copy() for name in (joint.parent, joint.child))
    X_WE[:3, 3] -= _find_own_shift(skeleton, joint)
    return invert(X_WP) @ X_WE


def _find_own_shift(skeleton: Skeleton, joint: Joint) -> Array:
    """(3,) how far discs have moved an element more than its parent: what straddles two goes half with the second."""
    shifts = find_disc_shifts(skeleton)
    moved: Array = shifts[joint.child] - shifts[joint.parent]
    return moved


def _move(skeleton: Skeleton, joint: Joint, X_WE: Array, placing: Placing | None) -> Skeleton:
    first = skeleton.index(joint.child)
    D = X_WE @ invert(skeleton.elements[first].X_WE)
    branch = {joint.child}
    for other in skeleton.joints[first:]:  # of the elements after it: every parent comes before its children
        if other.parent in branch:
            branch.add(other.child)
    elements = [_move_element(own, D) if own.name in branch else own for own in skeleton.elements]
    elements[first] = replace(elements[first], X_WE=X_WE)
    joints = [_move_joint(own, D, branch) if own.child in branch else own for own in skeleton.joints]
    joints[first - 1] = replace(joints[first - 1], placing=placing)
    return build_skeleton(skeleton.name, tuple(elements), tuple(joints), skeleton.feet, skeleton.left_out)


def _move_element(element: Element, D: Array) -> Element:
    return replace(element, X_WE=D @ element.X_WE)


def _move_joint(joint: Joint, D: Array, branch: set[str]) -> Joint:
    """Frame, places of the limits and the facets on what moves."""
    facets = tuple(move_facet(facet, D) if facet.element in branch else facet for facet in joint.facets)
    return replace(joint, X_WJ=D @ joint.X_WJ, limits=move_limits(joint.limits, D), facets=facets)
