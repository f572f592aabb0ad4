"""Where elements stood in a pose as mounted, as it is shown over the view: their proxies' triangles, moved there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import bpy
import numpy as np

from ..core_calcs.skeleton.element import Element
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import CounterpoiseError
from ..core_calcs.studies.mounted import list_moved
from ..properties.palette import GHOST_COLOUR, GHOST_RIM
from .figures import drawn_joints
from .frames import Array, scene_scale, to_scene
from .kept_document import KeptDocument
from .posed_facets import is_in_sight
from .proxies import find_origin
from .rig import ELEMENT
from .skeletons import list_proxies

RIM = 0.02
"""How far the rim about an element stands out, as a share of the cube root of its volume."""
LIGHT = np.array([0.4, -0.5, 0.77])
"""Where light comes from on a ghost, of length 1."""


@dataclass(frozen=True, eq=False)
class DrawnGhosts:
    """Elements where they stood, or stand in another pose, in the scene.

    triangles, rims : (3 k, 3) corners, float32; the rims stand out a little, and show from behind
    light : (3 k) how much light falls on each corner, 0 to 1
    colour, rim_colour : of the elements, and of the rim
    name, place : what it is called over the view, and where; empty and None: it is not
    """

    triangles: np.ndarray
    rims: np.ndarray
    light: np.ndarray
    colour: tuple[float, float, float] = GHOST_COLOUR
    rim_colour: tuple[float, float, float] = GHOST_RIM
    name: str = ""
    place: tuple[float, float, float] | None = None


@dataclass
class _Kept:
    """The last ghosts of a scene, and what they were made from."""

    key: tuple[object, ...]
    ghosts: DrawnGhosts | None


_kept: dict[str, _Kept] = {}


def find_mounted(context: bpy.types.Context) -> DrawnGhosts | None:
    """What stood elsewhere in the pose as mounted, the very same object while nothing has changed; else None."""
    scene = context.scene
    settings = scene.counterpoise
    kept, _ = drawn_joints(scene)
    if not settings.overlays.mounted or kept is None or settings.rig is None or not is_in_sight(settings.rig):
        return None
    pose = choose_mounted(scene, kept)
    if pose is None:
        return None
    meshes = {proxy[ELEMENT]: proxy.data for proxy in list_proxies(scene)}
    known = tuple((name, mesh.session_uid, len(mesh.vertices)) for name, mesh in meshes.items())
    key = (kept.digest, pose.name, scene_scale(scene), known)
    last = _kept.get(scene.name)
    if last is None or last.key != key:
        _kept[scene.name] = last = _Kept(key, _make_ghosts(scene, kept, pose, meshes))
    return last.ghosts


def choose_mounted(scene: bpy.types.Scene, kept: KeptDocument) -> Pose | None:
    """The pose as mounted whose row is selected, else the first of the document; None where it has none."""
    settings = scene.counterpoise
    at = settings.pose_index
    selected = settings.poses[at].name if 0 <= at < len(settings.poses) else ""
    mounted = [pose for pose in kept.document.poses if pose.mounted]
    return next((pose for pose in mounted if pose.name == selected), mounted[0] if mounted else None)


def _make_ghosts(
    scene: bpy.types.Scene, kept: KeptDocument, pose: Pose, meshes: dict[str, bpy.types.Mesh]
) -> DrawnGhosts | None:
    try:
        moved = list_moved(kept.document.skeleton, pose)
    except CounterpoiseError:  # the figures of the pose tell what is wrong with it
        return None
    elements = {element.name: element for element in kept.document.skeleton.elements}
    scale, parts = scene_scale(scene), []
    for own in moved:
        if own.element in meshes:
            stood = replace(elements[own.element], X_WE=own.X_WE)
            parts.append(_place(meshes[own.element], stood, scale))
    parts = [part for part in parts if len(part[0])]
    if not parts:
        return None
    return DrawnGhosts(*(np.concatenate(column).astype(np.float32) for column in zip(*parts, strict=True)))


def _place(mesh: bpy.types.Mesh, element: Element, scale: float) -> tuple[Array, Array, Array]:
    """Corners of a mesh's triangles, of its rim, and the light on each, where the element stands."""
    mesh.calc_loop_triangles()
    points = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", points)
    corners = np.empty(3 * len(mesh.loop_triangles), np.int32)
    mesh.loop_triangles.foreach_get("vertices", corners)
    X = to_scene(find_origin(element), scale)
    placed = points.reshape(-1, 3).astype(float) @ X[:3, :3].T + X[:3, 3]
    normals = find_normals(placed, corners.reshape(-1, 3))
    out = RIM * np.cbrt(element.solid.volume_m3) / scale
    light = 0.5 + 0.5 * normals @ LIGHT
    return placed[corners], (placed + out * normals)[corners], light[corners]


def find_normals(points: Array, faces: np.ndarray) -> Array:
    """(n, 3) outward at each point, the mean of its faces' by area; zero where it has no face."""
    a, b, c = (points[faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    normals = np.stack([np.bincount(faces.ravel(), np.repeat(across[:, k], 3), len(points)) for k in range(3)], axis=1)
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    return np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)


def register() -> None: ...


def unregister() -> None:
    _kept.clear()
