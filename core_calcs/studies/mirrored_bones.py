"""A missing bone made of its partner on the other side, and a mirrored scan put right."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from ..articulation.alignment import align, list_starts
from ..articulation.feet import find_extreme_points
from ..articulation.frames import fixed_frame
from ..articulation.mirror_plane import MirrorPlane, find_centre, find_mirror_plane
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..mesh.surface import Surface
from ..mesh.transformed import transform_surface
from ..skeleton.element import Element, Side
from ..skeleton.element_names import name_partner
from ..skeleton.joint import AxisLimit, Joint, JointKind, LimitSettings, Stop
from ..skeleton.tree import Contact, Foot, Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress
from ..spatial.transforms import Array, apply, invert, make_transform
from .new_bones import (
    BoneOrder,
    MadeBone,
    fix_again,
    keep_or_look,
    list_above,
    look_for,
    read_placed,
    tell_chain,
    tell_source,
)
from .searched_joints import name_hand

_LIKE_SHARE = 0.05
"""Of a parent's size (cube root of its volume): so near the two of a pair lie upon each other where they are alike."""


def mirror_bone(scanned: SkeletonDocument, mesh_folder: Path, order: BoneOrder, progress: Progress) -> MadeBone:
    """A bone made of its partner, in a document whose discs have been taken out.

    Where the partner's parent and the bone's are a pair, or one element of the mid-line, it is carried over by the
    reflection that lays the one upon the other: it stands to its parent as the partner does, however the two are
    mounted. Else, and where the two parents are not alike, across the skeleton's mid-plane.

    Raises
    ------
    SkeletonError : the source is of the middle, or the root; its parent's partner is missing too
    DocumentError : files of source and parents are not as recorded
    """
    skeleton = scanned.skeleton
    source = skeleton.elements[skeleton.index(order.source)]
    if source.side == "middle":
        what = "it is of the mid-line, and has no other side"
        raise SkeletonError(source.name, what, "scale one of the row, or give its own name to mirror it in its place")
    joint = skeleton.joint_of(source.name)
    parent = _find_parent(skeleton, order, joint)
    on = skeleton.elements[skeleton.index(joint.parent)]
    require_files([source, on, parent], mesh_folder)
    progress("looking for the mid-plane", 0.0)
    plane = find_mirror_plane(skeleton.elements)
    progress(f"laying {on.name} upon {parent.name}", 0.05)
    X, told = _find_reflection(plane, source, on, parent, mesh_folder)
    surface = transform_surface(read_placed(source, mesh_folder), X)
    joints = (_mirror_joint(skeleton, joint, X, parent, order.name), *_hang_again(skeleton, source, order.name, X))
    side: Side = "left" if source.side == "right" else "right"
    position = source.position if order.position is None else order.position
    feet = _mirror_feet(skeleton, source, order.name, surface.vertices)
    evidence = "; ".join(filter(None, (told, plane.describe(), tell_source(source), tell_chain(skeleton, source))))
    return MadeBone(surface, source, position, side, joints, feet, f"mirrored of {source.name}", evidence)


def reflect_in_place(element: Element, plane: MirrorPlane, surface: Surface) -> tuple[Array, float]:
    """(4, 4) in its own frame, the reflection that leaves a surface as nearly in its place as can be; and how far off
    (rms) [m].

    surface : in the world
    """
    through = replace(plane, offset_m=float(plane.normal @ find_centre(element)))
    found = align(surface, surface, [through.X_WW])
    return invert(element.X_WE) @ found.X @ element.X_WE, found.residual_m


def _find_parent(skeleton: Skeleton, order: BoneOrder, joint: Joint) -> Element:
    known = {element.name: element for element in skeleton.elements}
    if order.parent:
        return skeleton.elements[skeleton.index(order.parent)]
    on = known[joint.parent]
    if on.side == "middle":
        return on
    partner = known.get(name_partner(on.name))
    if partner is None or partner.name == on.name:
        what = f"{joint.child} hangs on {on.name}, whose partner {name_partner(on.name)} is missing too"
        raise SkeletonError(order.name, what, "make that one first, or name the parent")
    return partner


def _find_reflection(
    plane: MirrorPlane, source: Element, on: Element, parent: Element, mesh_folder: Path
) -> tuple[Array, str]:
    """(4, 4) takes the source to the other side, in the world; and what was used, in words with figures."""
    M = plane.X_WW
    if parent.name not in (on.name, name_partner(on.name)) or min(on.solid.volume_m3, parent.solid.volume_m3) <= 0:
        return M, f"across the mid-plane: {on.name} and {parent.name} are no pair"
    starts = [M]
    if parent.name != on.name:
        starts = list_starts((find_centre(on), find_centre(parent)), (_turned_inertia(on), _turned_inertia(parent)), M)
    found = align(read_placed(on, mesh_folder), read_placed(parent, mesh_folder), starts)
    size = float(np.cbrt(parent.solid.volume_m3))
    pair = f"{on.name} mirrored" if parent.name == on.name else f"{on.name} mirrored upon {parent.name}"
    if found.residual_m > _LIKE_SHARE * size:
        what = f"{pair} lies {1000 * found.residual_m:.3g} mm off (rms), which is not alike"
        return M, f"across the mid-plane: {what}"
    centre = find_centre(source)
    apart = float(np.linalg.norm(apply(found.X, centre[None]) - apply(M, centre[None])))
    return found.X, (
        f"carried over with its parent: {pair} lies {1000 * found.residual_m:.2g} mm off (rms); its centre is "
        f"{1000 * apart:.2g} mm from where the mid-plane would mirror it"
    )


def _turned_inertia(element: Element) -> Array:
    R = element.X_WE[:3, :3]
    turned: Array = R @ element.solid.inertia_m5 @ R.T
    return turned


def _mirror_joint(skeleton: Skeleton, joint: Joint, X: Array, parent: Element, child: str) -> Joint:
    """A joint as it is to be looked for on the other side; what was set by hand is mirrored."""
    if not name_hand(joint):
        kind = joint.kind if joint.moves else "limb"
        settings = joint.settings or _usual_settings(skeleton, kind)
        return look_for(parent, child, kind, settings)
    if joint.kind == "by hand" and joint.limits is not None:
        return _mirror_by_hand(joint, X, parent.name, child)
    fixed = fix_again(parent.name, child, f"{joint.reason or 'fixed'} (as {joint.child})")
    also = name_partner(joint.also) if joint.also else None
    if joint.also is not None and also is not None:
        known = {element.name: element for element in skeleton.elements}
        second = also if also in known else joint.also if known[joint.also].side == "middle" else None
        if second is not None and second != parent.name:
            cut = apply(X, joint.X_WJ[:3, 3][None])[0]
            return replace(fixed, also=second, X_WJ=fixed_frame(cut))
    return fixed


def _usual_settings(skeleton: Skeleton, kind: JointKind) -> LimitSettings | None:
    """What the limits of joints of a kind were computed with, where the one at hand has none; None: none has any."""
    return next((own.settings for own in skeleton.joints if own.kind == kind and own.settings is not None), None)


def _mirror_by_hand(joint: Joint, X: Array, parent: str, child: str) -> Joint:
    """A joint set by hand on the other side: the same angles mean the same movement.

    A mirrored turn about an axis goes the other way round, so that the flexion axis is turned about and the senses of
    the other two change.
    """
    R = X[:3, :3] @ joint.X_WJ[:3, :3] @ np.diag([-1.0, 1.0, 1.0])
    X_WJ = make_transform(R, apply(X, joint.X_WJ[:3, 3][None])[0])
    flexion, lateral, axial = joint.senses
    assert joint.limits is not None
    ends = [
        AxisLimit(Stop(own.low.angle_rad, "by hand", None), Stop(own.high.angle_rad, "by hand", None))
        for own in joint.limits
    ]
    reason = f"{joint.reason} (as {joint.child})"
    return Joint(
        parent, child, "by hand", X_WJ, (flexion, -lateral, -axial), (ends[0], ends[1], ends[2]), (), "by hand", reason,
        None,
    )  # fmt: skip


def _hang_again(skeleton: Skeleton, source: Element, name: str, X: Array) -> list[Joint]:
    """Joints of what is there on this side and hangs, on the other, on the source: it is to hang on the new bone."""
    known = {element.name for element in skeleton.elements}
    above = list_above(skeleton, name_partner(skeleton.joint_of(source.name).parent))
    hung = []
    for joint in skeleton.joints:
        partner = name_partner(joint.child)
        if joint.parent != source.name or partner not in known or partner == joint.child:
            continue
        if partner in above or partner == skeleton.root.name:
            continue
        own = skeleton.joint_of(partner)
        hung.append(keep_or_look(own, _mirror_joint(skeleton, joint, X, replace(source, name=name), partner), skeleton))
    return hung


def _mirror_feet(skeleton: Skeleton, source: Element, name: str, vertices: Array) -> tuple[Foot, ...]:
    """The feet, with the new bone in the one that answers to the source's."""
    feet = list(skeleton.feet)
    for foot in skeleton.feet:
        if source.name not in {contact.element for contact in foot.contacts}:
            continue
        contact = Contact(name, find_extreme_points(vertices))
        partner = name_partner(foot.name)
        at = next((i for i, own in enumerate(feet) if own.name == partner and partner != foot.name), None)
        if at is not None:
            feet[at] = replace(feet[at], contacts=(*feet[at].contacts, contact))
        elif partner != foot.name:
            feet.append(Foot(partner, (contact,)))
    return tuple(feet)
