"""What is shown over the view: facets where the pose puts them, where the joint in hand stops, what runs into what.

Asked for at every drawing of a view: what was found for a pose and a choice of joints is kept until one changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import bpy
import numpy as np

from ..core_calcs.studies.stops import use_axes
from .facet_shapes import Facets, shape_facets
from .figures import drawn_joints, live_figures
from .frames import Array, scene_scale, to_array
from .joint_in_hand import list_selected
from .joint_text import tell_together, word_inside, word_stop
from .kept_document import KeptDocument
from .rig import ELEMENT, SCALE, order_bones

MOST_HITS = 6
"""So many places where elements run into each other are marked: more would hide what they mark."""


@dataclass(frozen=True, eq=False)
class DrawnFacets:
    """By role, parent and child: corners of triangles (3 k, 3) and of strokes (2 l, 3) in the scene, float32.

    across : how wide half of the skeleton's facets are at least, in the scene
    """

    triangles: dict[str, np.ndarray]
    strokes: dict[str, np.ndarray]
    across: float


@dataclass(frozen=True)
class DrawnStop:
    """Where a joint stands at a limit or beyond it, or where an element runs into another.

    place : in the scene: where it stops or runs in, or, where no place is known, the joint's centre
    known : whether that is where it stops
    state : close at the limit or within what is allowed, fails beyond it
    """

    place: tuple[float, float, float]
    known: bool
    state: str
    text: str


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


def find_stops(context: bpy.types.Context) -> tuple[DrawnStop, ...]:
    """Where the joint of the active bone stands at a limit or beyond one, or beyond what its axes allow together."""
    scene = context.scene
    bone = context.active_pose_bone if scene.counterpoise.overlays.stops else None
    rig = scene.counterpoise.rig
    if bone is None or bone.id_data != rig or bone not in (context.selected_pose_bones or ()):
        return ()
    kept, uses = drawn_joints(scene)
    use = uses.get(bone.bone.get(ELEMENT, ""))
    if kept is None or use is None:
        return ()
    joint = kept.document.skeleton.joint_of(use.child)
    parent = move_points(kept, rig, joint.parent)
    if parent is None:
        return ()

    def mark(place: Array | None, state: str, text: str) -> DrawnStop:
        point = np.asarray(joint.X_WJ[:3, 3] if place is None else place, float) / rig.data[SCALE]
        at = parent @ np.append(point, 1.0)
        return DrawnStop(tuple(at[:3].tolist()), place is not None, state, text)

    axes = use_axes(joint, use.angles_rad)
    found = [mark(own.reached.place_m, own.state, word_stop(own)) for own in axes if own.reached is not None]
    if together := tell_together(use):
        found.append(mark(None, "fails", f"{word_inside(use.inside_rad)}: {together}"))
    return tuple(found)


def find_hits(context: bpy.types.Context) -> tuple[DrawnStop, ...]:
    """Where elements run into each other in the live pose, the worst of them."""
    scene = context.scene
    live = live_figures(scene) if scene.counterpoise.overlays.hits else None
    if live is None:
        return ()
    unit_m = scene_scale(scene)
    return tuple(
        DrawnStop(tuple(p / unit_m for p in hit.place_m), True, hit.state, f"{hit.title}: {hit.depth}")
        for hit in (live.hits or ())[:MOST_HITS]
    )


def find_marks(context: bpy.types.Context) -> tuple[DrawnStop, ...]:
    """What is marked with a ring and told beside it, whose labels are to find room together."""
    return (*find_stops(context), *find_hits(context))


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
