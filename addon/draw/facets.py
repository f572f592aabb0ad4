"""Facets: filled and stroked over the elements, fainter where an element hides them."""

from __future__ import annotations

from typing import Protocol

import bpy
import gpu
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from gpu_extras.batch import batch_for_shader
from mathutils import Vector

from ..properties.palette import FACET_COLOURS

HIDDEN, SEEN = (0.22, 0.65), (0.50, 1.0)
"""How opaque fill and strokes are where an element hides them, and where nothing does."""

STROKE_PX, EDGE_PX = 2.2, 3.8
EDGE = (1.0, 1.0, 1.0, 0.45)
"""A light edge on either side of a stroke that is seen: it reads on elements of any colour."""

FULL_PX, THINNEST = 24.0, 0.4
"""Facets smaller than that on the screen have thinner strokes, down to such a share: many of them stay calm."""

LIFT = 2e-3
"""Towards the eye, as a share of the view's distance: a facet lies in the very surface that it is drawn over."""


class Facets(Protocol):
    """By role: corners of triangles (3 k, 3) and of strokes (2 l, 3) in the scene; across: a common facet's width."""

    triangles: dict[str, np.ndarray]
    strokes: dict[str, np.ndarray]
    across: float


Batches = dict[str, list[tuple[gpu.types.GPUBatch, str]]]
"""Of fills and of strokes: each with its role."""

_kept: list[tuple[Facets, Batches]] = []
"""The last facets drawn, and their batches."""


def draw_facets(found: Facets) -> None:
    """Draw facets, whose batches are kept until others are given."""
    if not _kept or _kept[0][0] is not found:
        _kept[:] = [(found, _make_batches(found))]
    view, batches = bpy.context.region_data, _kept[0][1]
    thin = min(max(_measure_px(found.across) / FULL_PX, THINNEST), 1.0)
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_mask_set(False)
    with gpu.matrix.push_pop():
        gpu.matrix.translate(view.view_rotation @ Vector((0.0, 0.0, LIFT * view.view_distance)))
        for test, (fill, stroke) in (("NONE", HIDDEN), ("LESS_EQUAL", SEEN)):
            gpu.state.depth_test_set(test)
            for batch, role in batches["fill"]:
                _fill(batch, (*FACET_COLOURS[role], fill))
            for batch, _ in batches["stroke"] if test != "NONE" else ():
                _stroke(batch, EDGE, EDGE_PX * thin)
            for batch, role in batches["stroke"]:
                _stroke(batch, (*FACET_COLOURS[role], stroke), STROKE_PX * thin)
    gpu.state.depth_test_set("NONE")
    gpu.state.depth_mask_set(True)
    gpu.state.blend_set("NONE")


def _measure_px(length: float) -> float:
    """What a length takes on the screen at the point that the view turns about."""
    region, view = bpy.context.region, bpy.context.region_data
    ends = (view.view_location, view.view_location + view.view_rotation @ Vector((length, 0.0, 0.0)))
    seen = [location_3d_to_region_2d(region, view, end) for end in ends]
    return (seen[1] - seen[0]).length if None not in seen else FULL_PX


def drop_batches() -> None:
    """Forget the batches: they belong to a window that may be gone."""
    _kept.clear()


def _make_batches(found: Facets) -> Batches:
    return {
        "fill": _list_batches("UNIFORM_COLOR", "TRIS", found.triangles),
        "stroke": _list_batches("POLYLINE_UNIFORM_COLOR", "LINES", found.strokes),
    }


def _list_batches(name: str, kind: str, parts: dict[str, np.ndarray]) -> list[tuple[gpu.types.GPUBatch, str]]:
    shader = gpu.shader.from_builtin(name)
    return [(batch_for_shader(shader, kind, {"pos": corners}), role) for role, corners in parts.items() if len(corners)]


def _fill(batch: gpu.types.GPUBatch, colour: tuple[float, ...]) -> None:
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    shader.bind()
    shader.uniform_float("color", colour)
    batch.draw(shader)


def _stroke(batch: gpu.types.GPUBatch, colour: tuple[float, ...], width_px: float) -> None:
    region = bpy.context.region
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    shader.bind()
    shader.uniform_float("color", colour)
    shader.uniform_float("viewportSize", (region.width, region.height))
    shader.uniform_float("lineWidth", width_px * bpy.context.preferences.system.ui_scale)
    batch.draw(shader)
