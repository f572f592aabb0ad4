"""What is marked over the view, with words: stops of the joint in hand, joints outside, what runs into what."""

from __future__ import annotations

from dataclasses import dataclass

import bpy
import numpy as np

from ..core_calcs.studies.assessment import JointUse
from ..core_calcs.studies.stops import use_axes
from .cursor_note import find_note
from .figures import drawn_joints, live_figures
from .frames import Array, scene_scale
from .joint_in_hand import find_in_hand
from .joint_text import tell_together, word_inside, word_stop
from .posed_facets import move_points
from .ranges import find_ranges
from .rig import ELEMENT, SCALE

MOST_HITS = 6
"""So many places where elements run into each other are marked: more would hide what they mark."""

MOST_OUTSIDE = 6
"""So many joints outside their range are told in words, the worst: the others show by their lines."""


@dataclass(frozen=True)
class DrawnMark:
    """Where a joint stands at a limit, beyond it or outside its range, or where an element runs into another.

    place : in the scene: where it stops or runs in, or the joint's centre
    ringed : whether a ring marks the place; words alone where nobody knows what stops the joint
    text : words beside it; empty where they stand elsewhere
    state : close at the limit or within what is allowed, fails beyond it
    """

    place: tuple[float, float, float]
    ringed: bool
    state: str
    text: str


def find_stops(context: bpy.types.Context) -> tuple[DrawnMark, ...]:
    """Where the joint of the active bone stands at a limit or beyond one, or beyond what its axes allow together.

    While a posing tool says why beside the mouse, the places alone are marked.
    """
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

    told = find_note(context) is not None

    def mark(place: Array | None, state: str, text: str) -> DrawnMark:
        point = np.asarray(joint.X_WJ[:3, 3] if place is None else place, float) / rig.data[SCALE]
        at = parent @ np.append(point, 1.0)
        return DrawnMark(tuple(at[:3].tolist()), place is not None, state, "" if told else text)

    axes = use_axes(joint, use.angles_rad)
    found = [mark(own.reached.place_m, own.state, word_stop(own)) for own in axes if own.reached is not None]
    if (together := tell_together(use)) and not told:
        found.append(mark(None, "fails", f"{word_inside(use.inside_rad)}: {together}"))
    return tuple(found)


def find_outside(context: bpy.types.Context) -> tuple[DrawnMark, ...]:
    """The joints that are farthest outside their range, in words; not the one in hand, whose stops are told."""
    ranges = find_ranges(context)
    if ranges is None or not ranges.outside.any():
        return ()
    _, uses = drawn_joints(context.scene)
    told = find_in_hand(context) if context.scene.counterpoise.overlays.stops else ""
    worst = [i for i in np.argsort(ranges.inside_deg) if ranges.outside[i] and ranges.children[i] != told]
    return tuple(_mark(uses[ranges.children[i]], ranges.ends[i, 0]) for i in worst[:MOST_OUTSIDE])


def _mark(use: JointUse, place: np.ndarray) -> DrawnMark:
    together = tell_together(use)
    text = f"{use.child}: {word_inside(use.inside_rad)}"
    return DrawnMark(tuple(place.tolist()), True, "fails", f"{text}, {together}" if together else text)


def find_hits(context: bpy.types.Context) -> tuple[DrawnMark, ...]:
    """Where elements run into each other in the live pose, the worst of them."""
    scene = context.scene
    live = live_figures(scene) if scene.counterpoise.overlays.hits else None
    if live is None:
        return ()
    unit_m = scene_scale(scene)
    return tuple(
        DrawnMark(tuple(p / unit_m for p in hit.place_m), True, hit.state, f"{hit.title}: {hit.depth}")
        for hit in (live.hits or ())[:MOST_HITS]
    )


def find_marks(context: bpy.types.Context) -> tuple[DrawnMark, ...]:
    """What is marked with a ring and told beside it, whose labels are to find room together."""
    return (*find_stops(context), *find_outside(context), *find_hits(context))
