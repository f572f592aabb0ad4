"""A calm studio picture of the meshes in the scene: warm metal on a pale floor, rendered on the processor."""

from __future__ import annotations

import math
from pathlib import Path

import bpy
import numpy as np
from mathutils import Vector
from picture_marks import add_caption, add_marks

SKY = (0.86, 0.88, 0.90)
FLOOR = (0.62, 0.60, 0.57)
METAL = (0.36, 0.20, 0.09)
FREE_ABOVE = 0.17
"""Share of the picture's height that the animal leaves free at the top."""


def render_picture(
    path: Path, found: dict | None = None, width: int = 1280, height: int = 800, samples: int = 6
) -> None:
    """Render the visible meshes from the animal's left front; the scene is left as it was found.

    found : the pose's assessment as the hand-over has it, to draw in what it stands on and where its weight comes down
    """
    meshes = [item for item in bpy.context.scene.objects if item.type == "MESH" and item.visible_get()]
    if not meshes:
        raise ValueError("nothing to render: the scene holds no visible mesh")
    lower, upper = find_bounds(meshes)
    if found is not None:
        lower.z = found["datum_m"][2]
    added = [*light_scene(lower, upper), add_floor(lower, upper)]
    camera = add_camera(find_points(meshes), width / height)
    added.append(camera)
    if found is not None:
        added += [*add_marks(found, lower.z), *add_caption(found, camera, width / height)]
    metal = make_material("studio metal", METAL, metallic=1.0, roughness=0.42)
    scene = bpy.context.scene
    kept = scene.camera, scene.world
    painted = paint(meshes, metal)
    try:
        scene.camera = camera
        scene.world = make_world()
        set_renderer(scene, width, height, samples)
        scene.render.filepath = str(path)
        bpy.ops.render.render(write_still=True)
    finally:
        for slot in painted:
            slot.link = "DATA"
        scene.camera, scene.world = kept
        for item in added:
            bpy.data.objects.remove(item)


def find_bounds(meshes: list[bpy.types.Object]) -> tuple[Vector, Vector]:
    """Lower and upper corner of the meshes in the evaluated scene, world axes."""
    graph = bpy.context.evaluated_depsgraph_get()
    corners = []
    for item in meshes:
        evaluated = item.evaluated_get(graph)
        corners += [evaluated.matrix_world @ Vector(corner) for corner in evaluated.bound_box]
    lower = Vector(min(corner[i] for corner in corners) for i in range(3))
    upper = Vector(max(corner[i] for corner in corners) for i in range(3))
    return lower, upper


def find_points(meshes: list[bpy.types.Object]) -> np.ndarray:
    """Some vertices of every mesh (n, 3) in the evaluated scene, world axes."""
    graph = bpy.context.evaluated_depsgraph_get()
    found = []
    for item in meshes:
        evaluated = item.evaluated_get(graph)
        points = np.empty(len(evaluated.data.vertices) * 3, np.float32)
        evaluated.data.vertices.foreach_get("co", points)
        matrix = np.array(evaluated.matrix_world)
        found.append(points.reshape(-1, 3)[::5] @ matrix[:3, :3].T + matrix[:3, 3])
    return np.concatenate(found)


def paint(meshes: list[bpy.types.Object], material: bpy.types.Material) -> list[bpy.types.MaterialSlot]:
    """Let every mesh wear the material on its object, over what it has of its own; returns the slots changed."""
    changed = []
    for item in meshes:
        if not item.data.materials:
            item.data.materials.append(None)
        for slot in item.material_slots:
            slot.link, slot.material = "OBJECT", material
            changed.append(slot)
    return changed


def make_material(name: str, colour: tuple[float, float, float], metallic: float, roughness: float):
    """A plain surface."""
    material = bpy.data.materials.new(name)
    material.use_nodes = True
    surface = material.node_tree.nodes["Principled BSDF"]
    surface.inputs["Base Color"].default_value = (*colour, 1)
    surface.inputs["Metallic"].default_value = metallic
    surface.inputs["Roughness"].default_value = roughness
    return material


def make_world() -> bpy.types.World:
    """An even, pale sky."""
    world = bpy.data.worlds.new("studio sky")
    world.use_nodes = True
    background = world.node_tree.nodes["Background"]
    background.inputs["Color"].default_value = (*SKY, 1)
    background.inputs["Strength"].default_value = 0.9
    return world


def light_scene(lower: Vector, upper: Vector) -> list[bpy.types.Object]:
    """A large key light from the upper left front and a weaker one from behind."""
    size = (upper - lower).length
    middle = (lower + upper) / 2
    lights = []
    for name, direction, power, area in (("key", (0.7, 0.9, 1.3), 55.0, 0.7), ("rim", (-1.0, -0.8, 0.9), 30.0, 0.5)):
        light = bpy.data.lights.new(name, "AREA")
        light.energy = power * size**2
        light.size = area * size
        item = bpy.data.objects.new(name, light)
        item.location = middle + Vector(direction).normalized() * size * 1.4
        item.rotation_euler = (middle - item.location).to_track_quat("-Z", "Y").to_euler()
        bpy.context.scene.collection.objects.link(item)
        lights.append(item)
    return lights


def add_floor(lower: Vector, upper: Vector) -> bpy.types.Object:
    """A floor that runs out of sight, at the lowest point."""
    reach = (upper - lower).length * 40
    x, y, z = (lower.x + upper.x) / 2, (lower.y + upper.y) / 2, lower.z
    corners = [
        (x - reach, y - reach, z),
        (x + reach, y - reach, z),
        (x + reach, y + reach, z),
        (x - reach, y + reach, z),
    ]
    mesh = bpy.data.meshes.new("floor")
    mesh.from_pydata(corners, [], [(0, 1, 2, 3)])
    mesh.materials.append(make_material("floor", FLOOR, metallic=0.0, roughness=0.9))
    item = bpy.data.objects.new("floor", mesh)
    bpy.context.scene.collection.objects.link(item)
    return item


def add_camera(points: np.ndarray, aspect: float) -> bpy.types.Object:
    """A long lens that holds all points (n, 3) with a margin, a strip above them left free."""
    camera = bpy.data.cameras.new("camera")
    camera.lens = 85
    item = bpy.data.objects.new("camera", camera)
    bpy.context.scene.collection.objects.link(item)
    forward = -Vector((0.62, 1.0, 0.34)).normalized()
    turn = forward.to_track_quat("-Z", "Y")
    axes = np.array([turn @ Vector((1, 0, 0)), turn @ Vector((0, 1, 0)), forward])
    seen = points @ axes.T
    middle = (seen.min(0) + seen.max(0)) / 2
    half_width = math.tan(camera.angle / 2) * 0.9
    half = np.array([half_width, half_width / aspect * (1 - FREE_ABOVE)])
    away = seen - middle
    distance = float((np.abs(away[:, :2]) / half - away[:, 2:]).max())
    item.location = Vector(middle @ axes) - forward * distance
    item.rotation_euler = turn.to_euler()
    camera.shift_y = FREE_ABOVE / 2 / aspect
    camera.clip_start, camera.clip_end = distance * 0.01, distance * 100
    return item


def set_renderer(scene: bpy.types.Scene, width: int, height: int, samples: int) -> None:
    """Cycles on the processor: needs no screen and no graphics driver."""
    scene.render.engine = "CYCLES"
    scene.cycles.device = "CPU"
    scene.cycles.samples = samples
    scene.cycles.use_denoising = True
    scene.cycles.adaptive_threshold = 0.05
    scene.cycles.max_bounces = 4
    scene.render.resolution_x, scene.render.resolution_y, scene.render.resolution_percentage = width, height, 100
    scene.render.image_settings.file_format = "PNG"
    scene.view_settings.view_transform = "AgX"
