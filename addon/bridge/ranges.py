"""How far inside their bony range the joints stand: one line a bone for the view.

Nothing is written into the .blend for it: colours of the bones themselves would be steps of undo, and unsaved changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import bpy
import numpy as np

from ..core_calcs.studies.assessment import JointUse
from ..core_calcs.studies.checks import lies_outside
from .figures import drawn_joints
from .frames import Array, to_array
from .kept_document import KeptDocument
from .rig import ELEMENT


@dataclass(frozen=True, eq=False)
class DrawnRanges:
    """The bones of the joints that turn, as far as they are in sight.

    children : (n) names; ends : (n, 2, 3) from the joint's centre along the bone, in the scene
    inside_deg : (n,) how far inside its range each joint stands, below zero outside; nan where that is not known
    outside : (n,) whether it is outside
    chosen : (n,) whether the bone is selected; in_front : whether elements do not hide the bones
    """

    children: tuple[str, ...]
    ends: np.ndarray
    inside_deg: np.ndarray
    outside: np.ndarray
    chosen: np.ndarray
    in_front: bool


@dataclass
class _Posed:
    """The last lines of a scene, and what they were made from."""

    key: tuple[object, ...]
    uses: dict[str, JointUse]
    ranges: DrawnRanges


_rows: WeakKeyDictionary[KeptDocument, tuple[tuple[int, int], dict[str, tuple[int, str]]]] = WeakKeyDictionary()
"""By document: which armature it was, and by the bones' names their rows and elements."""
_posed: dict[str, _Posed] = {}


def find_ranges(context: bpy.types.Context) -> DrawnRanges | None:
    """Lines of the bones of the rig in pose mode, the very same object while nothing has changed; else None."""
    scene = context.scene
    rig = scene.counterpoise.rig if scene.counterpoise.overlays.ranges else None
    if rig is None or rig.pose is None or rig.mode != "POSE":
        return None
    kept, uses = drawn_joints(scene)
    seen = tuple(bone.name for bone in context.visible_pose_bones or () if bone.id_data == rig)
    if kept is None or not uses or not seen:
        return None
    chosen = frozenset(bone.name for bone in context.selected_pose_bones or () if bone.id_data == rig)
    places = _read_places(rig)
    key = (kept.digest, rig.session_uid, rig.show_in_front, seen, chosen, places.tobytes())
    known = _posed.get(scene.name)
    if known is None or known.key != key or known.uses is not uses:
        rows = _find_rows(kept, rig)
        lines = [(own, name) for name in seen if (own := rows.get(name)) is not None and own[1] in uses]
        ranges = _make_ranges(uses, lines, places, chosen, rig.show_in_front)
        _posed[scene.name] = known = _Posed(key, uses, ranges)
    return known.ranges


def _read_places(rig: bpy.types.Object) -> Array:
    """(b, 2, 3) head and tail of every bone of a rig, in the scene."""
    ends = np.empty((2, len(rig.pose.bones), 3), np.float32)
    for part, name in zip(ends, ("head", "tail"), strict=True):
        flat = np.empty(part.size, np.float32)
        rig.pose.bones.foreach_get(name, flat)
        part[:] = flat.reshape(part.shape)
    world = to_array(rig.matrix_world)
    placed: Array = np.swapaxes(ends @ world[:3, :3].T + world[:3, 3], 0, 1)
    return placed


def _find_rows(kept: KeptDocument, rig: bpy.types.Object) -> dict[str, tuple[int, str]]:
    armature = (rig.data.session_uid, len(rig.data.bones))
    known = _rows.get(kept)
    if known is None or known[0] != armature:
        own = {bone.name: (i, bone.bone.get(ELEMENT, "")) for i, bone in enumerate(rig.pose.bones)}
        known = _rows[kept] = (armature, own)
    return known[1]


def _make_ranges(
    uses: dict[str, JointUse],
    lines: list[tuple[tuple[int, str], str]],
    places: Array,
    chosen: frozenset[str],
    front: bool,
) -> DrawnRanges:
    own = [uses[child] for (_, child), _ in lines]
    return DrawnRanges(
        tuple(use.child for use in own),
        places[[row for (row, _), _ in lines]].astype(np.float32),
        np.degrees([np.nan if use.inside_rad is None else use.inside_rad for use in own]),
        np.array([lies_outside(use) for use in own], bool),
        np.array([name in chosen for _, name in lines], bool),
        front,
    )


def register() -> None: ...


def unregister() -> None:
    _rows.clear()
    _posed.clear()
