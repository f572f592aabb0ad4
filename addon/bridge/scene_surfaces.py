"""The display surfaces that a scene holds, as the core takes them: for pictures, never for figures."""

from __future__ import annotations

import bpy
import numpy as np

from ..core_calcs.studies.display import Surface, coarsen_surfaces
from ..core_calcs.studies.pose_pictures import PictureParts, prepare_pictures
from .frames import scene_scale
from .kept_document import KeptDocument
from .rig import ELEMENT, SCALE
from .skeletons import list_proxies

Key = tuple[object, ...]

COARSE_SHARE = 1 / 300
"""What ghosts are made of is no finer than this share of the skeleton's size."""

_parts: dict[tuple[str, bool], tuple[Key, PictureParts]] = {}
"""By scene, and whether coarse: the last that were made ready, and what from."""


def name_surfaces(scene: bpy.types.Scene, kept: KeptDocument) -> Key:
    """What changes when the scene's display surfaces do: cheap to ask for."""
    centres = {element.name: tuple(element.solid.centre_m) for element in kept.document.skeleton.elements}
    found = ((proxy[ELEMENT], proxy.data) for proxy in list_proxies(scene))
    return tuple((name, mesh.session_uid, len(mesh.vertices), centres.get(name)) for name, mesh in found)


def find_parts(scene: bpy.types.Scene, kept: KeptDocument) -> PictureParts:
    """The surfaces of the active skeleton made ready for pictures: read from the meshes once."""
    return _find_parts(scene, kept, False)


def find_coarse_parts(scene: bpy.types.Scene, kept: KeptDocument) -> PictureParts:
    """The same, coarser: for what is drawn many times over."""
    return _find_parts(scene, kept, True)


def _find_parts(scene: bpy.types.Scene, kept: KeptDocument, coarse: bool) -> PictureParts:
    key = name_surfaces(scene, kept)
    known = _parts.get((scene.name, coarse))
    if known is None or known[0] != key:
        surfaces = read_surfaces(scene, kept)
        if coarse:
            surfaces = coarsen_surfaces(surfaces, COARSE_SHARE * kept.plan.size_m)
        _parts[scene.name, coarse] = known = (key, prepare_pictures(surfaces))
    return known[1]


def read_surfaces(scene: bpy.types.Scene, kept: KeptDocument) -> dict[str, Surface]:
    """Each proxy's triangles by element, in the element's frame E [m]; nothing of elements that have no proxy."""
    meshes = {proxy[ELEMENT]: proxy.data for proxy in list_proxies(scene)}
    found = {}
    for element in kept.document.skeleton.elements:
        mesh = meshes.get(element.name)
        if mesh is None:
            continue
        points, faces = read_triangles(mesh)
        metres = float(mesh.get(SCALE, scene_scale(scene)))
        found[element.name] = Surface(points * metres + np.asarray(element.solid.centre_m, float), faces)
    return found


def read_triangles(mesh: bpy.types.Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Points (n, 3) in the mesh's own unit, and corners (m, 3) of its triangles."""
    mesh.calc_loop_triangles()
    points = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", points)
    corners = np.empty(3 * len(mesh.loop_triangles), np.int32)
    mesh.loop_triangles.foreach_get("vertices", corners)
    return points.reshape(-1, 3).astype(float), corners.reshape(-1, 3).astype(np.int64)


def drop_surfaces() -> None:
    """Forget what was made ready."""
    _parts.clear()
