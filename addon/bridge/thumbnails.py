"""A small picture of every saved pose: made one by one between other work, kept by content, shown by its number."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field

import bpy
import bpy.utils.previews
import numpy as np

from ..core_calcs.handover.state_stamps import stamp_state
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.pose_pictures import Pixels, draw_parts, place_parts, tell_places
from .figures import drawn_figures, drawn_live
from .kept_document import KeptDocument
from .scene_surfaces import Key, drop_surfaces, find_parts, name_surfaces

PIXELS, SMALL = 128, 32
"""Side of a picture, and of the one that stands for it in a line of text."""

MOST_KEPT = 200
"""From so many pictures on those that no list shows are given back."""


@dataclass
class _Shown:
    """Pictures of one skeleton's poses: what each was made from, and its name; empty where none could be made."""

    keys: dict[str, Key] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)


_shown: dict[tuple[str, str], _Shown] = {}
_previews: bpy.utils.previews.ImagePreviewCollection | None = None


def find_thumbnail(scene: bpy.types.Scene, pose: str) -> int:
    """Number of a saved pose's picture, of before where it is being made anew; 0 where there is none (yet)."""
    name = name_thumbnail(scene, pose)
    return int(_previews[name].icon_id) if name and _previews is not None else 0


def name_thumbnail(scene: bpy.types.Scene, pose: str) -> str:
    """Name of a saved pose's picture: the same content, the same name; empty where there is none (yet)."""
    text = scene.counterpoise.document
    shown = _shown.get((scene.name, text.name if text else ""))
    return shown.names.get(pose, "") if shown else ""


def make_thumbnails(scene: bpy.types.Scene, most: int) -> tuple[int, bool]:
    """Make pictures that are out of date, so many at most; how many were made, and whether more are to be.

    Nothing is made of a pose before its figures are known: its picture shows its state.
    """
    kept, _ = drawn_live(scene)
    if kept is None or scene.counterpoise.document is None:
        return 0, False
    shown = _shown.setdefault((scene.name, scene.counterpoise.document.name), _Shown())
    states = {figures.pose: figures.state for figures in drawn_figures(scene)[1]}
    ground, surfaces, done = kept.document.site.ground_m, name_surfaces(scene, kept), 0
    for pose in kept.document.poses:
        state = states.get(pose.name)
        key: Key = (kept.digest, ground, surfaces, state)
        if state is None or shown.keys.get(pose.name) == key:
            continue
        if done == most:
            return done, True
        shown.names[pose.name] = _hold_picture(scene, kept, pose, state)
        shown.keys[pose.name] = key
        done += 1
    return done, False


def _hold_picture(scene: bpy.types.Scene, kept: KeptDocument, pose: Pose, state: str) -> str:
    """The name of the picture of a pose, drawn where there is none of the same content; empty where none can be."""
    skeleton, ground_m = kept.document.skeleton, kept.document.site.ground_m
    try:
        content = hashlib.sha256(tell_places(skeleton, pose))
    except CounterpoiseError:  # the figures of the pose tell what is wrong with it
        return ""
    content.update(repr((ground_m, name_surfaces(scene, kept), state)).encode())
    name = content.hexdigest()
    if _previews is None or name not in _previews:
        picture = draw_parts(place_parts(skeleton, find_parts(scene, kept), pose, ground_m), PIXELS)
        _add_preview(name, stamp_state(picture, state))
    return name


def _add_preview(name: str, picture: Pixels) -> None:
    """A new preview; those that nothing shows any more make room."""
    global _previews
    if _previews is None:
        _previews = bpy.utils.previews.new()
    if len(_previews) >= MOST_KEPT:
        used = {used for shown in _shown.values() for used in shown.names.values()}
        for old in set(_previews) - used:
            del _previews[old]
    preview, step = _previews.new(name), PIXELS // SMALL
    small = picture.reshape(SMALL, step, SMALL, step, 4).mean(axis=(1, 3))
    for kind, own in (("image", picture), ("icon", small)):
        setattr(preview, f"{kind}_size", own.shape[:2])
        getattr(preview, f"{kind}_pixels_float").foreach_set(own[::-1].astype(np.float32).ravel())


def drop_thumbnails() -> None:
    """Give all pictures back."""
    global _previews
    _shown.clear()
    drop_surfaces()
    if _previews is not None:
        bpy.utils.previews.remove(_previews)
        _previews = None
