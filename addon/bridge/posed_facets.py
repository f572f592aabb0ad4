"""Facets as they are shown over the view: where the pose puts them.

Asked for at every drawing of a view: what was found for a pose and a choice of joints is kept until one changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import bpy
import numpy as np

from .facet_shapes import Facets, shape_facets
from .figures import drawn_joints
from .frames import Array, to_array
from .joint_in_hand import list_selected
from .kept_document import KeptDocument
from .rig import SCALE, order_bones


@dataclass(frozen=True, eq=False)
class DrawnFacets:
    """By role, parent and child: corners of triangles (3 k, 3) and of strokes (2 l, 3) in the scene, float32.

    across : how wide half of the skeleton's facets are at least, in the scene
    """

    triangles: dict[str, np.ndarray]
    strokes: dict[str, np.ndarray]
    across: float


@dataclass
class _Posed:
    """The last facets that were drawn in a scene, and what they were made from."""

    key: tuple[object, ...]
    facets: DrawnFacets


_shapes: WeakKeyDictionary[KeptDocument, dict[str, Facets]] = WeakKeyDictionary()
_orders: WeakKeyDictionary[KeptDocument, tuple[tuple[int, int], np.ndarray, Array]] = WeakKeyDictionary()
"""By document: which armature it was, its bones in the plan's order, the inverse of their rest matrices."""
_posed: dict[str, _Posed] = {}


def find_facets(context: bpy.types.Context) -> DrawnFacets | None:
    """The facets to be drawn, the very same object while nothing has changed; None where there are none."""
    scene = context.scene
    shown = scene.counterpoise.overlays.facets
    if shown == "NONE":
        return None
    kept, _ = drawn_joints(scene)
    rig = scene.counterpoise.rig
    if kept is None or rig is None or rig.pose is None or not is_in_sight(rig):
        return None
    chosen = None if shown == "ALL" else frozenset(list_selected(context, rig))
    if chosen is not None and not chosen:
        return None
    matrices = np.empty(16 * len(rig.pose.bones), np.float32)
    rig.pose.bones.foreach_get("matrix", matrices)
    key = (kept.digest, rig.session_uid, chosen, tuple(map(tuple, rig.matrix_world)), matrices.tobytes())
    known = _posed.get(scene.name)
    if known is None or known.key != key:
        facets = _pose_facets(kept, rig, matrices, chosen)
        if facets is None:
            return None
        _posed[scene.name] = known = _Posed(key, facets)
    return known.facets


def is_in_sight(rig: bpy.types.Object) -> bool:
    """Whether a rig is shown, or something that hangs on it: of what is hidden nothing is drawn."""
    return rig.visible_get() or any(thing.visible_get() for thing in rig.children)


def move_points(kept: KeptDocument, rig: bpy.types.Object, element: str) -> Array | None:
    """(4, 4) that takes scene co-ordinates of the neutral articulation to where an element's bone carries them now."""
    matrices = np.empty(16 * len(rig.pose.bones), np.float32)
    rig.pose.bones.foreach_get("matrix", matrices)
    motions = _find_motions(kept, rig, matrices)
    return None if motions is None else motions[kept.plan.carriers[kept.document.skeleton.index(element)]]


def _pose_facets(
    kept: KeptDocument, rig: bpy.types.Object, matrices: np.ndarray, chosen: frozenset[str] | None
) -> DrawnFacets | None:
    motions = _find_motions(kept, rig, matrices)
    if motions is None:
        return None
    if kept not in _shapes:
        _shapes[kept] = shape_facets(kept)
    joints = kept.document.skeleton.joints
    wanted = np.array([chosen is None or joint.child in chosen for joint in joints], bool)
    scale, triangles, strokes = rig.data[SCALE], {}, {}
    for role, own in _shapes[kept].items():
        points = _move(motions, own.shape.points / scale, own.bones)
        triangles[role] = points[own.shape.triangles[wanted[own.triangle_joints]]]
        strokes[role] = points[own.shape.strokes[wanted[own.stroke_joints]]]
    areas = [facet.area_m2 for joint in joints for facet in joint.facets]
    return DrawnFacets(triangles, strokes, float(np.sqrt(np.median(areas or [0.0]))) / scale)


def _move(motions: Array, points: Array, bones: np.ndarray) -> np.ndarray:
    """Each point with its bone, as float32."""
    own = motions[bones]
    return (np.einsum("nij,nj->ni", own[:, :3, :3], points) + own[:, :3, 3]).astype(np.float32)


def _find_motions(kept: KeptDocument, rig: bpy.types.Object, matrices: np.ndarray) -> Array | None:
    """(m, 4, 4) of each bone of the plan from rest to its present place, in the scene; None where a bone is gone.

    Taken from the rig itself, into which Blender writes what it has evaluated: a drawing may not evaluate anything.
    """
    armature = (rig.data.session_uid, len(rig.data.bones))
    known = _orders.get(kept)
    if known is None or known[0] != armature:
        try:
            names = order_bones(rig, kept.plan)
        except KeyError:
            return None
        at = {name: i for i, name in enumerate(rig.pose.bones.keys())}
        rest = np.stack([to_array(rig.data.bones[name].matrix_local) for name in names])
        known = _orders[kept] = (armature, np.array([at[name] for name in names]), np.linalg.inv(rest))
    _, order, back = known
    present = np.swapaxes(matrices.reshape(-1, 4, 4)[order], -1, -2).astype(float)
    return to_array(rig.matrix_world) @ present @ back


def register() -> None: ...


def unregister() -> None:
    for kept in (_shapes, _orders, _posed):
        kept.clear()
