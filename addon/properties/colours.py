"""Giving proxies their colours: as scanned, by series, like bone."""

from __future__ import annotations

import bpy

from .palette import proxy_colour

SERIES = "counterpoise_series"
"""On proxies, and on the materials made for them: the series; on the material of bone it is empty."""

SCAN_COLOURS = "Scan"
"""Name of the colour attribute of proxies whose scan has colours."""

AS_SCANNED = "as scanned"
"""What the material that shows them is marked with in place of a series."""


def colour_proxy(proxy: bpy.types.Object, by: str) -> None:
    """Give a proxy its colour, unless somebody has given it a material of their own.

    by : SCAN, SERIES or BONE; one whose scan has no colours is coloured by its series
    """
    series = AS_SCANNED if by == "SCAN" and has_scan_colours(proxy) else "" if by == "BONE" else proxy[SERIES]
    slots = proxy.data.materials
    if not slots:
        slots.append(_find_material(series))
    elif slots[0] is None or SERIES in slots[0]:
        slots[0] = _find_material(series)
    proxy.color = proxy_colour(series)


def has_scan_colours(proxy: bpy.types.Object) -> bool:
    """Whether the scan that a proxy was made from has colours."""
    return SCAN_COLOURS in proxy.data.color_attributes


def show_colours(wanted: bool) -> None:
    """Let the solid views of every workspace show the colours of the scans, or go back to those of materials.

    Only views that showed materials are changed, and back only those that show attributes.
    """
    was, now = ("MATERIAL", "VERTEX") if wanted else ("VERTEX", "MATERIAL")
    for screen in bpy.data.screens:
        for area in screen.areas:
            if area.type == "VIEW_3D" and area.spaces.active.shading.color_type == was:
                area.spaces.active.shading.color_type = now


def _find_material(series: str) -> bpy.types.Material:
    for material in bpy.data.materials:
        if material.get(SERIES) == series and material.library is None:
            return material
    material = bpy.data.materials.new(f"Proxy {series or 'bone'}")
    material[SERIES] = series
    material.diffuse_color = proxy_colour(series)
    material.roughness = 0.7
    if material.node_tree is None:  # from Blender 5 on every material has nodes
        material.use_nodes = True
    shader = material.node_tree.nodes.get("Principled BSDF")
    if shader:
        shader.inputs["Base Color"].default_value = proxy_colour(series)
        shader.inputs["Roughness"].default_value = 0.7
        if series == AS_SCANNED:
            attribute = material.node_tree.nodes.new("ShaderNodeVertexColor")
            attribute.layer_name = SCAN_COLOURS
            attribute.location = (-240.0, 200.0)
            material.node_tree.links.new(attribute.outputs["Color"], shader.inputs["Base Color"])
    return material
