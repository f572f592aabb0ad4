"""Where the mouse is in the scene: places and turns in the plane of a 3D view."""

from __future__ import annotations

import math

import bpy
import numpy as np
from bpy_extras.view3d_utils import (
    location_3d_to_region_2d,
    region_2d_to_location_3d,
    region_2d_to_origin_3d,
    region_2d_to_vector_3d,
)
from mathutils import Vector

from .frames import Array
from .rig import ELEMENT

Point = tuple[float, float]


def to_screen(context: bpy.types.Context, place: Array) -> Array | None:
    """(2,) pixels of a place (3,) in the region of the context; None behind the eye."""
    at = location_3d_to_region_2d(context.region, context.region_data, Vector(place))
    return None if at is None else np.array(at)


def to_scene_plane(context: bpy.types.Context, mouse: Point, depth: Array) -> Array:
    """(3,) the place under the mouse as far from the eye as another place."""
    return np.array(region_2d_to_location_3d(context.region, context.region_data, mouse, Vector(depth)))


def looks_along(context: bpy.types.Context, place: Array) -> Array:
    """(3,) unit direction from the eye to a place."""
    at = to_screen(context, place)
    middle = (context.region.width / 2, context.region.height / 2)
    seen = middle if at is None else (float(at[0]), float(at[1]))
    return np.array(region_2d_to_vector_3d(context.region, context.region_data, seen))


def screen_axes(context: bpy.types.Context) -> tuple[Array, Array]:
    """The directions (3,) in the scene that run right and up on the screen."""
    turn = np.array(context.region_data.view_matrix.inverted().to_3x3())
    return turn[:, 0], turn[:, 1]


def turn_about(middle: Array, start: Point, end: Point) -> float:
    """Angle [rad] from one place to another about a third on the screen, counter-clockwise, within half a turn."""
    first, last = np.asarray(start) - middle, np.asarray(end) - middle
    return math.atan2(first[0] * last[1] - first[1] * last[0], float(first @ last))


def find_surface(context: bpy.types.Context, mouse: Point) -> Array | None:
    """(3,) the place under the mouse on an object that is no element; None where there is none."""
    region, view = context.region, context.region_data
    origin, ray = region_2d_to_origin_3d(region, view, mouse), region_2d_to_vector_3d(region, view, mouse)
    hit, place, _, _, thing, _ = context.scene.ray_cast(context.evaluated_depsgraph_get(), origin, ray)
    return np.array(place) if hit and ELEMENT not in thing else None
