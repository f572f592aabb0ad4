"""Saved poses as ghosts over the view: the whole animal of each that is switched on, a colour and its name to each.

Made little by little while no tool is in use; at drawing what has been made is handed over and nothing computed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import bpy
import numpy as np

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.skeleton.tree import Skeleton
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.pose_pictures import PictureParts, place_points
from ..properties.palette import GHOST_COLOURS
from .figures import drawn_joints
from .frames import Array, scene_scale
from .kept_document import KeptDocument
from .mounted import LIGHT, DrawnGhosts, find_mounted, find_normals
from .posed_facets import is_in_sight
from .scene_surfaces import Key, find_coarse_parts, name_surfaces

MOST = len(GHOST_COLOURS)
"""So many poses are shown at once."""

RIM_SHARE = 0.003
"""How far the rim about a ghost stands out, as a share of the skeleton's size."""


@dataclass
class _Made:
    """The ghosts of one skeleton, by pose, each with what it was made from; None: its pose cannot be placed."""

    keys: dict[str, Key] = field(default_factory=dict)
    ghosts: dict[str, DrawnGhosts | None] = field(default_factory=dict)
    shown: tuple[DrawnGhosts, ...] = ()


_made: dict[tuple[str, str], _Made] = {}


def list_ghosted(scene: bpy.types.Scene) -> list[str]:
    """Names of the saved poses that are switched on as ghosts, the first of them that can be shown."""
    return [row.name for row in scene.counterpoise.poses if row.ghost][:MOST]


def count_ghosted(scene: bpy.types.Scene) -> int:
    """How many are switched on, be they more than are shown."""
    return sum(row.ghost for row in scene.counterpoise.poses)


def colour_ghosts(scene: bpy.types.Scene) -> dict[str, tuple[float, float, float]]:
    """The colour of each pose that is shown as a ghost, by its name."""
    return dict(zip(list_ghosted(scene), GHOST_COLOURS, strict=False))


def shown_ghosts(context: bpy.types.Context) -> tuple[DrawnGhosts, ...]:
    """What has been made of the ghosts that are switched on, and of what stood elsewhere in a pose as mounted."""
    before = find_mounted(context)
    return (*(() if before is None else (before,)), *_list_made(context.scene))


def lacks_ghosts(scene: bpy.types.Scene) -> bool:
    """Whether one that is switched on has not been made at all; told by names alone."""
    settings = scene.counterpoise
    wanted = list_ghosted(scene)
    if not wanted or settings.document is None or not settings.overlays.ghosts:
        return False
    made = _made.get((scene.name, settings.document.name))
    return made is None or not set(wanted) <= set(made.keys)


def _list_made(scene: bpy.types.Scene) -> tuple[DrawnGhosts, ...]:
    settings = scene.counterpoise
    if not settings.overlays.ghosts or settings.document is None or settings.rig is None:
        return ()
    if not is_in_sight(settings.rig):
        return ()
    made = _made.get((scene.name, settings.document.name))
    if made is None:
        return ()
    wanted = set(list_ghosted(scene))
    return tuple(ghost for ghost in made.shown if ghost.name in wanted)


def make_ghosts(scene: bpy.types.Scene, most: int) -> tuple[int, bool]:
    """Make ghosts that are out of date, so many at most; how many were made, and whether more are to be."""
    kept, _ = drawn_joints(scene)
    colours = colour_ghosts(scene)
    if kept is None or scene.counterpoise.document is None:
        return 0, False
    place = (scene.name, scene.counterpoise.document.name)
    if not colours:
        return int(_made.pop(place, None) is not None), False
    made, done = _made.setdefault(place, _Made()), 0
    poses = {pose.name: pose for pose in kept.document.poses}
    surfaces = name_surfaces(scene, kept)
    for name, colour in colours.items():
        key: Key = (kept.digest, surfaces, scene_scale(scene), colour)
        if name not in poses or made.keys.get(name) == key:
            continue
        if done == most:
            return done, True
        made.ghosts[name] = _make_ghost(scene, kept, poses[name], colour)
        made.keys[name] = key
        done += 1
    for gone in set(made.keys) - set(colours):
        del made.keys[gone], made.ghosts[gone]
    made.shown = tuple(ghost for name in colours if (ghost := made.ghosts.get(name)) is not None)
    return done, False


def _make_ghost(
    scene: bpy.types.Scene, kept: KeptDocument, pose: Pose, colour: tuple[float, float, float]
) -> DrawnGhosts | None:
    parts, scale = find_coarse_parts(scene, kept), scene_scale(scene)
    try:
        points = place_points(kept.document.skeleton, parts, pose) / scale
    except CounterpoiseError:  # the figures of the pose tell what is wrong with it
        return None
    if not len(points):
        return None
    normals = find_normals(points, parts.faces)
    out = RIM_SHARE * kept.plan.size_m / scale
    corners = parts.faces.ravel()
    light = 0.5 + 0.5 * normals @ LIGHT
    rims = (points + out * normals)[corners].astype(np.float32)
    head = _find_head(kept.document.skeleton, parts, points)
    triangles = points[corners].astype(np.float32)
    return DrawnGhosts(triangles, rims, light[corners].astype(np.float32), colour, colour, pose.name, head)


def _find_head(skeleton: Skeleton, parts: PictureParts, points: Array) -> tuple[float, float, float]:
    """Where the name stands: the highest point of the skull, or of what is farthest ahead where there is none."""
    known = [element for element in skeleton.elements if element.name in parts.names]
    skulls = [element for element in known if element.series == "skull"]
    head = max(skulls or known, key=lambda element: element.solid.volume_m3 if skulls else element.X_WE[0, 3])
    at = parts.names.index(head.name)
    own = points[parts.ends[at] : parts.ends[at + 1]]
    x, y, z = map(float, own[own[:, 2].argmax()])
    return x, y, z


def drop_ghosts() -> None:
    """Forget all of them."""
    _made.clear()
