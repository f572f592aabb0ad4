"""Facets as what is drawn of them: triangles and strokes that tell, without colour, how sure a facet is.

| facet | fill | strokes |
|---|---|---|
| found | full | its outline |
| marked by hand | full | its outline twice, one inside the other |
| ambiguous | none | its outline dashed, hatched |
| of a joint that does not rest on it: set or fixed by hand | none | its outline |

Where a facet has no outline of its own, a disc of its area stands for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from mathutils.geometry import tessellate_polygon

from ..core_calcs.skeleton.joint import Facet, Joint
from .frames import Array
from .kept_document import KeptDocument

ROLES = ("parent", "child")
"""Whose facet it is."""

_CORNERS = 28
_HATCH, _DASH, _INNER = 7, 6, 0.82
"""Hatches and dashes across a facet; the inner outline's size."""


@dataclass(frozen=True, eq=False)
class Shape:
    """Points (n, 3) in the world of the neutral articulation [m]; which of them are the corners of triangles (3 k,),
    and the ends of strokes (2 l,)."""

    points: Array
    triangles: np.ndarray
    strokes: np.ndarray


@dataclass(frozen=True, eq=False)
class Facets:
    """All facets of a skeleton of one role, as one shape.

    bones : (n,) of each point, index in the rig's plan
    triangle_joints, stroke_joints : of each corner and end, index in the skeleton
    """

    shape: Shape
    bones: np.ndarray
    triangle_joints: np.ndarray
    stroke_joints: np.ndarray


def shape_facets(kept: KeptDocument) -> dict[str, Facets]:
    """The facets of every joint of a document, by role."""
    skeleton, carriers = kept.document.skeleton, kept.plan.carriers
    at = {element.name: i for i, element in enumerate(skeleton.elements)}
    found: dict[str, list[tuple[Shape, int, int]]] = {role: [] for role in ROLES}
    for j, joint in enumerate(skeleton.joints):
        for facet in joint.facets:
            role = "child" if facet.element == joint.child else "parent"
            found[role].append((shape_facet(joint, facet), int(carriers[at[facet.element]]), j))
    return {role: _gather(shapes) for role, shapes in found.items()}


def shape_facet(joint: Joint, facet: Facet) -> Shape:
    """What is drawn of one facet."""
    loop = find_outline(facet)
    ring = np.arange(len(loop))
    closed = np.stack([ring, np.roll(ring, -1)], axis=1).ravel()
    nothing = np.zeros(0, int)
    if any(mark.element == facet.element for mark in joint.marks):
        inner = facet.centroid_m + _INNER * (loop - facet.centroid_m)
        return Shape(np.concatenate([loop, inner]), _fill(loop), np.concatenate([closed, closed + len(loop)]))
    if facet.confidence in ("found", "by hand"):
        rests_on_it = joint.kind in ("column", "limb")
        return Shape(loop, _fill(loop) if rests_on_it else nothing, closed)
    across = np.sqrt(facet.area_m2)
    points = np.concatenate([_dash(loop, across / _DASH), _hatch(loop, facet.normal, across / _HATCH)])
    return Shape(points, nothing, np.arange(len(points)))


def find_outline(facet: Facet) -> Array:
    """A closed loop (k, 3): the facet's outline, or the rim of a disc of its area."""
    if facet.outline_m is not None and len(facet.outline_m) >= 3:
        return np.asarray(facet.outline_m, float)
    first, second = _span(facet.normal)
    turn = np.linspace(0, 2 * np.pi, _CORNERS, endpoint=False)[:, None]
    radius = np.sqrt(facet.area_m2 / np.pi)
    return facet.centroid_m + radius * (np.cos(turn) * first + np.sin(turn) * second)


def _span(normal: Array) -> tuple[Array, Array]:
    """Two directions at right angles to a normal and to each other."""
    first = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    first /= np.linalg.norm(first)
    return first, np.cross(normal, first)


def _fill(loop: Array) -> np.ndarray:
    """The corners of triangles that fill a loop."""
    return np.array(tessellate_polygon([loop.tolist()]), int).ravel()


def _dash(loop: Array, dash: float) -> Array:
    """Every other piece of a loop, each about so long."""
    closed = np.vstack([loop, loop[:1]])
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    pieces = 2 * max(4, round(run[-1] / dash / 2))
    ends = np.linspace(0, run[-1], pieces + 1)
    points = np.stack([np.interp(ends, run, closed[:, k]) for k in range(3)], axis=1)
    return np.stack([points[:-1:2], points[1::2]], axis=1).reshape(-1, 3)


def _hatch(loop: Array, normal: Array, apart: float) -> Array:
    """Parallel strokes across a loop, from one side of it to the other."""
    first, second = _span(normal)
    across = (first + second) / np.sqrt(2)
    after = np.roll(loop, -1, axis=0)
    low, high = loop @ across, after @ across
    along = np.cross(normal, across)
    strokes = [np.zeros((0, 3))]
    for level in np.arange(low.min() + apart / 2, low.max(), apart):
        crossing = np.flatnonzero((low > level) != (high > level))
        share = ((level - low[crossing]) / (high[crossing] - low[crossing]))[:, None]
        points = loop[crossing] + share * (after[crossing] - loop[crossing])
        strokes.append(points[np.argsort(points @ along)])  # an even number: the loop is closed
    return np.concatenate(strokes)


def _gather(shapes: list[tuple[Shape, int, int]]) -> Facets:
    """One shape of many, each with its bone and joint."""
    counts = [len(shape.points) for shape, _, _ in shapes]
    starts = np.cumsum([0, *counts])[:-1]
    bones, joints = (np.array([row[k] for row in shapes], int) for k in (1, 2))
    parts, owners = [], []
    for key in ("triangles", "strokes"):
        own = [getattr(shape, key) + start for (shape, _, _), start in zip(shapes, starts.tolist(), strict=True)]
        parts.append(np.concatenate([np.zeros(0, int), *own]))
        owners.append(np.repeat(joints, [len(part) for part in own]))
    points = np.concatenate([np.zeros((0, 3)), *(shape.points for shape, _, _ in shapes)])
    return Facets(Shape(points, *parts), np.repeat(bones, counts), *owners)
