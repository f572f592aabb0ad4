"""Where the user has moved an element to: its proxy is moved and turned by Blender's own means, and read here."""

from __future__ import annotations

import bpy
import numpy as np

from ..core_calcs.skeleton.joint import Joint
from ..core_calcs.skeleton.tree import Skeleton
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.places_by_hand import find_place
from ..core_calcs.studies.rigging import RigPlan
from .figures import require_rig
from .frames import Array, to_array, to_metres
from .kept_document import KeptDocument
from .motions import check_scale, read_motions
from .proxies import find_origin, find_proxy
from .rig import ELEMENT
from .skeletons import list_proxies

STILL = 1e-5
"""A move below this share of the skeleton's size, and a turn below so many radians, are single precision's own."""


def selected_element(context: bpy.types.Context) -> str:
    """The element whose proxy is the active object and selected; empty where there is none."""
    active = context.active_object
    if active is None or not active.select_get() or active not in list_proxies(context.scene):
        return ""
    return str(active[ELEMENT])


def read_place(context: bpy.types.Context, kept: KeptDocument, name: str) -> Array:
    """(4, 4) X_WE in the neutral articulation at which an element stands where its proxy is seen in the live pose.

    Raises
    ------
    SkeletonError : its proxy is gone, or scaled, or has not been moved; the root
    """
    scene, skeleton, plan = context.scene, kept.document.skeleton, kept.plan
    row, parent = skeleton.index(name), skeleton.index(skeleton.joint_of(name).parent)
    proxy = find_proxy(scene, name)
    if proxy is None:
        raise SkeletonError(name, "it is not in the view", "build the rig again, which reads it from its file")
    depsgraph = context.evaluated_depsgraph_get()
    rig = require_rig(scene)
    motions = read_motions(rig, plan, depsgraph, scene)
    _refuse_bent(skeleton.joints[row - 1], motions, plan, skeleton)
    seen = to_metres(to_array(proxy.evaluated_get(depsgraph).matrix_world), check_scale(rig, scene))
    _refuse_scaled(name, seen)
    drawn = motions[plan.carriers[row]] @ find_origin(skeleton.elements[row])
    finest_m = STILL * plan.size_m
    place = find_place(skeleton.elements[row], seen, drawn, motions[plan.carriers[parent]], finest_m, STILL)
    if np.array_equal(place, skeleton.elements[row].X_WE):
        raise SkeletonError(name, "it stands where the document has it", "move it with G or turn it with R first")
    return place


def _refuse_bent(joint: Joint, motions: Array, plan: RigPlan, skeleton: Skeleton) -> None:
    """What straddles two elements shows where it belongs only where these stand to each other as at neutral."""
    if joint.also is None:
        return
    one, two = (motions[plan.carriers[skeleton.index(name)]] for name in (joint.parent, joint.also))
    if np.abs(one - two).max() > STILL * max(1.0, plan.size_m):
        what = f"it follows {joint.parent} and {joint.also}, which are turned against each other now"
        raise SkeletonError(joint.child, what, "bring the rig back to neutral, and move it there")


def _refuse_scaled(name: str, X: Array) -> None:
    R = X[:3, :3]
    if np.abs(R.T @ R - np.eye(3)).max() > 1e-4 or np.linalg.det(R) < 0:
        raise SkeletonError(
            name, "it is scaled or mirrored, but its size comes from its file", "clear its scale (Alt S)"
        )
