"""Where an action is put: the element in hand, and the 3D cursor in its frame."""

from __future__ import annotations

import bpy
import numpy as np

from ..core_calcs.spatial.errors import SkeletonError
from .figures import require_rig
from .frames import Array
from .kept_document import KeptDocument
from .motions import check_scale, read_motions
from .places import selected_element
from .rig import ELEMENT


def element_in_hand(context: bpy.types.Context) -> str:
    """The element of the active bone in pose mode, else of the active object; empty where there is none."""
    if context.mode == "POSE":
        bone = context.active_pose_bone
        ours = bone is not None and bone.id_data == context.scene.counterpoise.rig
        return str(bone.bone.get(ELEMENT, "")) if ours else ""
    return selected_element(context)


def find_cursor(context: bpy.types.Context, kept: KeptDocument, name: str) -> Array:
    """(3,) the 3D cursor in an element's frame E [m], as it stands in the live pose.

    Raises
    ------
    SkeletonError : there is no such element, or the rig is scaled
    """
    scene, skeleton, plan = context.scene, kept.document.skeleton, kept.plan
    row = skeleton.index(name)
    rig = require_rig(scene)
    metres = check_scale(rig, scene)
    motions = read_motions(rig, plan, context.evaluated_depsgraph_get(), scene)
    X_WE = motions[plan.carriers[row]] @ skeleton.elements[row].X_WE
    cursor = np.array(scene.cursor.location, float) * metres
    point: Array = (np.linalg.inv(X_WE) @ [*cursor, 1.0])[:3]
    if not np.isfinite(point).all():
        raise SkeletonError(name, "its place in the view is not known", "build the rig again")
    return point
