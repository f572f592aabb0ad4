"""What a picture tells of a pose: the support polygon, the plumb line from the centre of mass, and a sentence.

Colours: Okabe & Ito, Color Universal Design (2008); the state always stands in words as well.
"""

from __future__ import annotations

import math

import bpy
import numpy as np
from mathutils import Vector

STATE_COLOURS = {
    "holds": (0.000, 0.342, 0.171),
    "close": (0.791, 0.347, 0.0),
    "fails": (0.665, 0.112, 0.0),
    "not known": (0.114, 0.133, 0.162),
}
INK = (0.02, 0.02, 0.02)
LIFT_M = 0.003
"""How far above the floor marks lie."""


def add_marks(found: dict, floor_m: float) -> list[bpy.types.Object]:
    """Support polygon and plumb line of a pose's assessment, as the hand-over has it; returns what was added."""
    check = next(check for check in found["checks"] if check["name"] == "Stands")
    colour = make_glow(f"mark {check['state']}", STATE_COLOURS[check["state"]])
    centre = Vector(found["centre_m"])
    foot = Vector((centre.x, centre.y, floor_m + 2 * LIFT_M))
    added = [
        add_tube("plumb line", [centre, foot], 0.009, colour, closed=False),
        add_disc("centre on the ground", foot, 0.05, colour),
        add_tube("centre", [centre, centre + Vector((0, 0, 1e-4))], 0.03, colour, closed=False),
    ]
    corners = [Vector((x, y, floor_m + LIFT_M)) for x, y in found["support_polygon_m"]]
    if len(corners) > 1:
        outline = make_glow("mark outline", INK)
        added.append(add_tube("support polygon", corners, 0.009, outline, closed=len(corners) > 2))
    return added


def add_caption(found: dict, camera: bpy.types.Object, aspect: float) -> list[bpy.types.Object]:
    """The pose's name, its state and why, in the upper left of the picture; returns what was added."""
    check = next(check for check in found["checks"] if check["name"] == "Stands")
    distance = camera.data.clip_start * 4
    half = math.tan(camera.data.angle / 2) * distance
    left, top = -0.95 * half, half / aspect * 0.90 + 2 * half * camera.data.shift_y
    size = 0.055 * half
    title = add_text(found["pose"], Vector((left, top - size, -distance)), 1.25 * size, INK, camera)
    colour = make_glow(f"mark {check['state']}", STATE_COLOURS[check["state"]])
    dot = add_disc("state", Vector((left + 0.3 * size, top - 2.15 * size, -distance)), 0.26 * size, colour)
    dot.parent = camera
    told = add_text(
        word_check(check), Vector((left + 0.95 * size, top - 2.4 * size, -distance)), 0.8 * size, INK, camera
    )
    for item in (title, dot, told):
        item.visible_shadow = item.visible_diffuse = item.visible_glossy = False
    return [title, dot, told]


def word_check(check: dict) -> str:
    """Whether it stands, in a line."""
    if check["meaning"]:
        return f"{check['state']}: {check['meaning']}"
    if check["figure"] is None:
        return f"{check['state']}: missing is {check['missing']}"
    return f"{check['state']}: the centre of mass stands {check['figure'] * 1000:.0f} mm inside what it stands on"


def add_text(text: str, place: Vector, size: float, colour: tuple[float, float, float], camera: bpy.types.Object):
    """A line of text that faces the camera."""
    curve = bpy.data.curves.new(text[:40], "FONT")
    curve.body, curve.size = text, size
    curve.materials.append(make_glow("mark text", colour))
    item = bpy.data.objects.new(text[:40], curve)
    item.location, item.parent = place, camera
    bpy.context.scene.collection.objects.link(item)
    return item


def add_tube(name: str, points: list[Vector], radius: float, material: bpy.types.Material, closed: bool):
    """A line through points, round and of a radius [m]."""
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions, curve.bevel_depth, curve.use_fill_caps = "3D", radius, True
    spline = curve.splines.new("POLY")
    spline.points.add(len(points) - 1)
    spline.points.foreach_set("co", np.array([(*point, 1.0) for point in points], np.float32).ravel())
    spline.use_cyclic_u = closed
    curve.materials.append(material)
    item = bpy.data.objects.new(name, curve)
    bpy.context.scene.collection.objects.link(item)
    return item


def add_disc(name: str, middle: Vector, radius: float, material: bpy.types.Material):
    """A round spot that looks along z."""
    angles = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata([(radius * math.cos(a), radius * math.sin(a), 0) for a in angles], [], [tuple(range(48))])
    mesh.materials.append(material)
    item = bpy.data.objects.new(name, mesh)
    item.location = middle
    bpy.context.scene.collection.objects.link(item)
    return item


def make_glow(name: str, colour: tuple[float, float, float]) -> bpy.types.Material:
    """A surface of one colour, whatever light falls on it."""
    if (known := bpy.data.materials.get(name)) is not None:
        return known
    material = bpy.data.materials.new(name)
    material.use_nodes = True
    nodes = material.node_tree.nodes
    nodes.clear()
    glow, output = nodes.new("ShaderNodeEmission"), nodes.new("ShaderNodeOutputMaterial")
    glow.inputs["Color"].default_value = (*colour, 1)
    material.node_tree.links.new(glow.outputs[0], output.inputs["Surface"])
    return material
