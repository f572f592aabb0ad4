"""Display proxies: one light mesh an element, hung on its bone. No figure is ever taken from them."""

from __future__ import annotations

import bpy
import numpy as np

from ..core_calcs.skeleton.element import Element
from ..core_calcs.studies.rigging import RigPlan
from .colours import proxy_colour
from .frames import Array, to_array, to_matrix, to_scene
from .rig import ELEMENT, order_bones

PURPOSE = "counterpoise_purpose"


def add_proxy(
    element: Element,
    vertices_m: Array,
    faces: np.ndarray,
    collection: bpy.types.Collection,
    metres_per_unit: float,
) -> bpy.types.Object:
    """An object at the element's place in the neutral articulation, its origin at the element's centre.

    vertices_m : (n, 3) in the element's frame E
    """
    centre = np.asarray(element.solid.centre_m, float)
    mesh = bpy.data.meshes.new(element.name)
    mesh.vertices.add(len(vertices_m))
    mesh.vertices.foreach_set("co", ((vertices_m - centre) / metres_per_unit).astype(np.float32).ravel())
    mesh.loops.add(3 * len(faces))
    mesh.loops.foreach_set("vertex_index", np.asarray(faces, dtype=np.int32).ravel())
    mesh.polygons.add(len(faces))
    mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * len(faces), 3, dtype=np.int32))
    mesh.update(calc_edges=True)
    mesh.validate()
    mesh.materials.append(_series_material(element.series))
    proxy = bpy.data.objects.new(element.name, mesh)
    proxy[ELEMENT] = element.name
    proxy[PURPOSE] = "display proxy: figures come from the full-resolution file"
    proxy.color = proxy_colour(element.series)
    proxy.hide_select = True
    X_WC = np.array(element.X_WE, float)
    X_WC[:3, 3] += X_WC[:3, :3] @ centre
    proxy.matrix_basis = to_matrix(to_scene(X_WC, metres_per_unit))
    collection.objects.link(proxy)
    return proxy


def hang_proxies(
    rig: bpy.types.Object, plan: RigPlan, elements: tuple[Element, ...], proxies: dict[str, bpy.types.Object]
) -> None:
    """Parent every proxy to the bone that carries its element; the parent inverse undoes the bone's tail at rest."""
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


def _series_material(series: str) -> bpy.types.Material:
    name = f"Proxy {series}"
    material = bpy.data.materials.get(name)
    if material is None:
        material = bpy.data.materials.new(name)
        material.diffuse_color = proxy_colour(series)
        material.roughness = 0.7
        if material.node_tree is None:  # from Blender 5 on every material has nodes
            material.use_nodes = True
        shader = material.node_tree.nodes.get("Principled BSDF")
        if shader:
            shader.inputs["Base Color"].default_value = proxy_colour(series)
            shader.inputs["Roughness"].default_value = 0.7
    return material
