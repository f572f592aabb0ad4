"""What shapely finds that surfaces cover: the union of their triangles, laid flat."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely

from core_calcs.mesh.surface import Surface

Array = np.ndarray


def find_plane(direction: Array) -> Array:
    """(2, 3) two axes across a direction, right-handed with it; any will do, this is not how the core chooses them."""
    view = np.asarray(direction, float) / np.linalg.norm(direction)
    first = np.cross(view, np.eye(3)[np.argmin(np.abs(view))])
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(view, first)])


def cover(surface: Surface, X: Array, plane: Array) -> shapely.Geometry:
    """The union of a surface's triangles that face the viewer, moved by X (4, 4); for closed surfaces, that is all."""
    flat = (surface.vertices @ X[:3, :3].T + X[:3, 3]) @ plane.T
    triangles = flat[surface.faces]
    a, b = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    front = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] > 0
    return shapely.union_all(shapely.polygons(triangles[front]))


def cover_all(surfaces: Iterable[Surface], X: Array, plane: Array) -> tuple[list[shapely.Geometry], shapely.Geometry]:
    """Each by itself, and all together."""
    parts = [cover(surface, own, plane) for surface, own in zip(surfaces, X, strict=True)]
    return parts, shapely.union_all(parts)


def find_centroid(shape: shapely.Geometry, plane: Array) -> Array:
    """(3,) of the shape, in the plane through the origin across the direction."""
    return np.array([shape.centroid.x, shape.centroid.y]) @ plane
