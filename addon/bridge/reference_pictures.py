"""Pictures behind the view to pose by: Blender's own image empties, marked as made here."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
from mathutils import Matrix, Vector

from ..core_calcs.spatial.errors import CounterpoiseError
from .frames import Array
from .skeletons import list_proxies

REFERENCE = "counterpoise_reference"
"""On an image empty that was made as a reference picture: the view that it is for."""

VIEWS = {
    "LEFT": ((0.0, 1.0, 0.0), (-1.0, 0.0, 0.0)),
    "RIGHT": ((0.0, -1.0, 0.0), (1.0, 0.0, 0.0)),
    "FRONT": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    "BACK": ((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
    "TOP": ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0)),
    "BOTTOM": ((0.0, 0.0, -1.0), (1.0, 0.0, 0.0)),
}
"""From which side of the animal a view looks: towards the eye, and right on the screen."""


def list_references(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The scene's reference pictures, by name."""
    return sorted((thing for thing in scene.objects if REFERENCE in thing), key=lambda thing: thing.name)


def find_view(eye: Array) -> str:
    """The side that a view is nearest to. eye : (3,) direction towards the eye"""
    return max(VIEWS, key=lambda name: float(np.dot(VIEWS[name][0], eye)))


def add_reference(scene: bpy.types.Scene, path: Path, view: str, opacity: float) -> bpy.types.Object:
    """A picture behind everything in one view, as wide as the skeleton is there.

    It cannot be selected, and is seen in the views along the axes alone.

    Raises
    ------
    CounterpoiseError : the file is not there or is no picture
    """
    image = _load(path)
    back, right = (np.array(direction) for direction in VIEWS[view])
    up = np.cross(back, right)
    low, high = _measure_skeleton(scene, np.stack([right, up, back]))
    made = bpy.data.objects.new(f"Reference {path.stem}", None)
    made[REFERENCE] = view
    made.empty_display_type, made.data = "IMAGE", image
    made.empty_image_depth, made.empty_image_side = "BACK", "FRONT"
    made.show_empty_image_perspective = False
    made.show_empty_image_only_axis_aligned = True
    made.use_empty_image_alpha = True
    made.color[3] = opacity
    width, height = image.size
    made.empty_display_size = float(high[0] - low[0]) * max(width, height) / width
    middle = (low + high) / 2
    turn = np.stack([right, up, back], axis=1)
    place = turn @ np.array((middle[0], middle[1], 0.0))
    made.matrix_world = Matrix.Translation(Vector(place)) @ Matrix(turn.tolist()).to_4x4()
    made.hide_select = True
    scene.collection.objects.link(made)
    return made


def remove_reference(picture: bpy.types.Object) -> None:
    """Take a picture out of the scene; the file stays, and so does the image where something else shows it."""
    image = picture.data
    bpy.data.objects.remove(picture)
    if image is not None and not image.users:
        bpy.data.images.remove(image)


def _load(path: Path) -> bpy.types.Image:
    what = "it is not a picture that Blender can read"
    if not path.is_file():
        raise CounterpoiseError(str(path), "there is no such file", "choose another picture")
    before = set(bpy.data.images)
    try:
        image = bpy.data.images.load(str(path), check_existing=True)
    except RuntimeError as error:
        raise CounterpoiseError(str(path), what, "choose another picture") from error
    if not all(image.size):
        if image not in before:
            bpy.data.images.remove(image)
        raise CounterpoiseError(str(path), what, "choose another picture")
    return image


def _measure_skeleton(scene: bpy.types.Scene, axes: Array) -> tuple[Array, Array]:
    """Least and greatest extent (3,) of the elements along three axes (3, 3) in rows, as they stand."""
    corners = [thing.matrix_world @ Vector(corner) for thing in list_proxies(scene) for corner in thing.bound_box]
    if not corners:
        raise CounterpoiseError("scene", "no element is in the view", "build the rig again")
    along = np.array(corners) @ axes.T
    return along.min(axis=0), along.max(axis=0)
