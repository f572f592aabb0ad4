"""Display proxies: one light mesh an element, hung on its bone. No figure is ever taken from them."""

from __future__ import annotations

from collections.abc import Iterable

import bpy
import numpy as np
from mathutils import Matrix

from ..core_calcs.skeleton.element import Element
from ..core_calcs.studies.display import Surface
from ..core_calcs.studies.rigging import RigPlan
from ..properties.colours import SCAN_COLOURS, SERIES, colour_proxy
from .frames import Array, to_array, to_matrix, to_scene
from .rig import ELEMENT, SCALE, order_bones
from .skeletons import list_proxies

PURPOSE = "counterpoise_purpose"


def add_proxy(
    element: Element,
    surface: Surface,
    collection: bpy.types.Collection,
    metres_per_unit: float,
    colours: str,
) -> bpy.types.Object:
    """An object at the element's place in the neutral articulation, its origin at the element's centre.

    surface : in the element's frame E [m]
    colours : what it is coloured by, see `colour_proxy`
    """
    proxy = bpy.data.objects.new(element.name, make_mesh(element, surface, metres_per_unit))
    proxy[ELEMENT] = element.name
    proxy[PURPOSE] = "display proxy: figures come from the full-resolution file"
    proxy[SERIES] = element.series
    colour_proxy(proxy, colours)
    proxy.hide_select = True
    proxy.matrix_basis = to_matrix(to_scene(find_origin(element), metres_per_unit))
    collection.objects.link(proxy)
    return proxy


def make_mesh(element: Element, surface: Surface, metres_per_unit: float) -> bpy.types.Mesh:
    """A proxy's mesh, about the element's centre, with the scan's colours; surface : in the element's frame E [m]."""
    vertices_m, faces = surface.vertices, surface.faces
    centre = np.asarray(element.solid.centre_m, float)
    mesh = bpy.data.meshes.new(element.name)
    mesh[SCALE] = metres_per_unit
    mesh.vertices.add(len(vertices_m))
    mesh.vertices.foreach_set("co", ((vertices_m - centre) / metres_per_unit).astype(np.float32).ravel())
    mesh.loops.add(3 * len(faces))
    mesh.loops.foreach_set("vertex_index", np.asarray(faces, dtype=np.int32).ravel())
    mesh.polygons.add(len(faces))
    mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * len(faces), 3, dtype=np.int32))
    mesh.update(calc_edges=True)
    if surface.colours is not None:
        _colour_mesh(mesh, surface.colours)
    mesh.validate()
    return mesh


def _colour_mesh(mesh: bpy.types.Mesh, colours: Array) -> None:
    """colours : (n, 3) of the vertices, sRGB."""
    attribute = mesh.color_attributes.new(SCAN_COLOURS, "BYTE_COLOR", "POINT")
    shown = np.pad(colours, ((0, 0), (0, 1)), constant_values=1.0).astype(np.float32)
    attribute.data.foreach_set("color_srgb", shown.ravel())
    mesh.color_attributes.active_color = attribute


def find_origin(element: Element) -> Array:
    """(4, 4) of the proxy's own frame, E moved to the element's centre; world of the neutral articulation [m]."""
    X_WC = np.array(element.X_WE, float)
    X_WC[:3, 3] += X_WC[:3, :3] @ np.asarray(element.solid.centre_m, float)
    return X_WC


def hang_proxies(
    rig: bpy.types.Object, plan: RigPlan, elements: tuple[Element, ...], proxies: dict[str, bpy.types.Object]
) -> None:
    """Parent every proxy to the bone that carries its element, where the document places it.

    The parent inverse undoes the bone's tail at rest.
    """
    names = order_bones(rig, plan)
    for element, carrier in zip(elements, plan.carriers, strict=True):
        proxy = proxies.get(element.name)
        if proxy is None:
            continue
        bone = rig.data.bones[names[carrier]]
        tail = np.eye(4)
        tail[1, 3] = bone.length
        proxy.parent = rig
        proxy.parent_type = "BONE"
        proxy.parent_bone = bone.name
        proxy.matrix_parent_inverse = to_matrix(np.linalg.inv(to_array(bone.matrix_local) @ tail))
        proxy.matrix_basis = to_matrix(to_scene(find_origin(element), rig.data[SCALE]))


def fit_proxies(proxies: Iterable[bpy.types.Object], was: float, metres_per_unit: float) -> None:
    """Bring the proxies' meshes from the scene unit that they were made in to another.

    was : metres in that unit, of meshes that do not say it themselves
    """
    for mesh in {proxy.data for proxy in proxies}:
        ratio = float(mesh.get(SCALE, was)) / metres_per_unit
        if abs(ratio - 1) > 1e-6:
            mesh.transform(Matrix.Scale(ratio, 4), shape_keys=True)
            mesh.update()
        mesh[SCALE] = metres_per_unit


def select_proxy(context: bpy.types.Context, name: str, look: bool = True) -> bool:
    """Select an element's proxy, alone, and bring it before the eyes, unless told not to; False where there is none."""
    return select_proxies(context, (name,), look)


def select_proxies(context: bpy.types.Context, names: Iterable[str], look: bool = True) -> bool:
    """Select the proxies of some elements and nothing else, the first of them active; False where one is not there.

    Proxies cannot be clicked, so that the bones can: those selected here are the exception, until others are.
    """
    chosen = [find_proxy(context.scene, name) for name in names]
    if not all(found is not None and found.name in context.view_layer.objects for found in chosen):
        return False
    if context.object is not None and context.object.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for candidate in context.scene.objects:
        if ELEMENT in candidate and candidate.type == "MESH":
            candidate.hide_select = candidate not in chosen
    for candidate in context.selected_objects:
        candidate.select_set(False)
    for found in chosen:
        found.select_set(True)
    context.view_layer.objects.active = chosen[0]
    for area in context.screen.areas if context.screen and look else ():
        region = next((region for region in area.regions if region.type == "WINDOW"), None)
        if area.type == "VIEW_3D" and region is not None:
            with context.temp_override(area=area, region=region):
                bpy.ops.view3d.view_selected()
    return True


def find_proxy(scene: bpy.types.Scene, name: str) -> bpy.types.Object | None:
    """The proxy of an element of the active skeleton."""
    return next((proxy for proxy in list_proxies(scene) if proxy[ELEMENT] == name), None)


def read_selected_faces(proxy: bpy.types.Object, element: Element, rig: bpy.types.Object) -> tuple[Surface, list[int]]:
    """A proxy's triangles in the element's frame E [m], and the numbers of those that are selected.

    In Edit Mode what is selected there counts, as it stands at this moment.
    """
    if proxy.mode == "EDIT":
        proxy.update_from_editmode()
    mesh = proxy.data
    mesh.calc_loop_triangles()
    points = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", points)
    corners = np.empty(3 * len(mesh.loop_triangles), np.int32)
    mesh.loop_triangles.foreach_get("vertices", corners)
    polygons = np.empty(len(mesh.loop_triangles), np.int32)
    mesh.loop_triangles.foreach_get("polygon_index", polygons)
    selected = np.empty(len(mesh.polygons), bool)
    mesh.polygons.foreach_get("select", selected)
    vertices = points.reshape(-1, 3).astype(float) * rig.data[SCALE] + np.asarray(element.solid.centre_m, float)
    surface = Surface(vertices, corners.reshape(-1, 3).astype(np.int64))
    return surface, np.flatnonzero(selected[polygons]).tolist()


def leave_edit_mode(context: bpy.types.Context) -> None:
    """Back to Object Mode, where the active object is in Edit Mode."""
    if context.object is not None and context.object.mode == "EDIT":
        bpy.ops.object.mode_set(mode="OBJECT")
