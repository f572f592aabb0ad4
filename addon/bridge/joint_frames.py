"""A joint's frame as an empty in the view: moved and turned by Blender's own means, and read here."""

from __future__ import annotations

import bpy
import numpy as np

from ..core_calcs.skeleton.joint import Joint
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.searched_joints import find_frame
from .figures import require_rig
from .frames import Array, to_array, to_matrix, to_metres, to_scene
from .kept_document import KeptDocument
from .motions import check_scale, read_motions
from .places import STILL
from .proxies import select_proxy
from .rig import order_bones
from .scene import take_in_hand
from .skeletons import mark_things

FRAME = "counterpoise_joint_frame"
"""On an empty: the element whose joint's frame it shows."""

POSING = "counterpoise_posing"
"""On the same empty, where the rig was in pose mode before."""

ARROW_SHARE = 0.35
"""Of the bone's length."""


def find_frame_shown(context: bpy.types.Context) -> bpy.types.Object | None:
    """The frame that is in the view, the active one first."""
    active = context.view_layer.objects.active
    shown = [thing for thing in context.scene.objects if FRAME in thing]
    return active if active in shown else next(iter(shown), None)


def show_frame(context: bpy.types.Context, kept: KeptDocument, joint: Joint) -> bpy.types.Object:
    """An empty where the joint's parent carries its frame in the live pose, alone in hand: x, y and z as its arrows."""
    put_away_frames(context)
    scene, rig, posing = context.scene, require_rig(context.scene), context.mode == "POSE"
    metres_per_unit = check_scale(rig, scene)
    row = int(kept.plan.carriers[kept.document.skeleton.index(joint.parent)])
    place = _read_motion(context, kept, joint.parent) @ joint.X_WJ
    empty = bpy.data.objects.new(f"Frame of {joint.child}", None)
    empty[FRAME], empty[POSING] = joint.child, posing
    empty.empty_display_type = "ARROWS"
    empty.empty_display_size = ARROW_SHARE * _find_length(kept, joint) / metres_per_unit
    empty.show_in_front = True
    rig.users_collection[0].objects.link(empty)
    mark_things(scene.counterpoise.document, [empty])
    empty.parent, empty.parent_type, empty.parent_bone = rig, "BONE", order_bones(rig, kept.plan)[row]
    context.view_layer.update()
    empty.matrix_world = to_matrix(to_scene(place, metres_per_unit))
    take_in_hand(context, empty)
    return empty


def read_frame(context: bpy.types.Context, kept: KeptDocument) -> tuple[str, Array]:
    """The child whose joint's frame is shown, and (4, 4) X_WJ in the neutral articulation where the user has put it.

    Raises
    ------
    SkeletonError : none is shown, or it is scaled, or has not been moved; the joint is gone
    """
    empty = find_frame_shown(context)
    if empty is None:
        raise SkeletonError("joint", "no frame is shown", "show it, then move it with G and turn it with R")
    child, scene = str(empty[FRAME]), context.scene
    joint = kept.document.skeleton.joint_of(child)
    context.view_layer.update()
    seen = to_array(empty.evaluated_get(context.evaluated_depsgraph_get()).matrix_world)
    if np.abs(seen[:3, :3].T @ seen[:3, :3] - np.eye(3)).max() > 1e-4 or np.linalg.det(seen[:3, :3]) < 0:
        raise SkeletonError(f"joint of {child}", "its frame is scaled or mirrored", "clear its scale (Alt S)")
    motion = _read_motion(context, kept, joint.parent)
    placed = to_metres(seen, check_scale(require_rig(scene), scene))
    X_WJ = find_frame(joint, placed, motion, STILL * kept.plan.size_m, STILL)
    if np.array_equal(X_WJ, joint.X_WJ):
        what = "its frame stands where the document has it"
        raise SkeletonError(f"joint of {child}", what, "move it with G or turn it with R first")
    return child, X_WJ


def put_away_frames(context: bpy.types.Context) -> None:
    """Take every frame out of the view; where one was in hand its joint is again, by its bone or by its element."""
    shown = [thing for thing in context.scene.objects if FRAME in thing]
    active = context.view_layer.objects.active
    in_hand = (str(active[FRAME]), bool(active[POSING])) if active in shown else None
    for thing in shown:
        bpy.data.objects.remove(thing)
    rig = context.scene.counterpoise.rig
    if in_hand is None or rig is None:
        return
    child, posing = in_hand
    if posing or not select_proxy(context, child, look=False):
        take_in_hand(context, rig, posing, child)


def _read_motion(context: bpy.types.Context, kept: KeptDocument, element: str) -> Array:
    """(4, 4) of an element from the neutral articulation to the live pose [m]."""
    rig = require_rig(context.scene)
    motions = read_motions(rig, kept.plan, context.evaluated_depsgraph_get(), context.scene)
    motion: Array = motions[kept.plan.carriers[kept.document.skeleton.index(element)]]
    return motion


def _find_length(kept: KeptDocument, joint: Joint) -> float:
    """Of the bone that the joint turns, or that its child rides on [m]."""
    row = kept.plan.carriers[kept.document.skeleton.index(joint.child)]
    return float(kept.plan.bones[row].length_m)
