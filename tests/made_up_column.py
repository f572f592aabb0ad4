"""A column of made-up vertebrae whose facets are known, and other joints whose limits can be worked out by hand."""

from __future__ import annotations

import numpy as np
import trimesh

from core_calcs.articulation.facets import Patch
from core_calcs.articulation.partner import Partner, prepare_partner
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

PITCH = 1.0
CENTRUM = (0.9, 0.8, 0.6)
"""Length along x, width, height of a centrum: the discs are .1 thick."""
PLATE = (0.36, 0.28, 0.06)
ZYGAPOPHYSIS_Y, ZYGAPOPHYSIS_Z, ZYGAPOPHYSIS_GAP = 0.34, 0.62, 0.04


def make_box(size, centre=(0.0, 0.0, 0.0), turn=None) -> Surface:
    """A box of edges `size` [m], turned, then moved to its centre."""
    X = np.eye(4)
    if turn is not None:
        X[:3, :3] = turn
    X[:3, 3] = centre
    return from_trimesh(trimesh.creation.box(size, X).subdivide().subdivide())


def from_trimesh(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64))


def join(*surfaces: Surface) -> Surface:
    starts = np.cumsum([0, *(len(s.vertices) for s in surfaces)])
    return Surface(
        np.concatenate([s.vertices for s in surfaces]),
        np.concatenate([s.faces + start for s, start in zip(surfaces, starts[:-1], strict=True)]),
    )


def zygapophysis_normal(side: int) -> np.ndarray:
    """Of the facet that looks to the head: dorsally and to the middle, 45° each; side +1 is left."""
    return np.array([0.0, -side, 1.0]) / np.sqrt(2)


def _plate_turn(side: int) -> np.ndarray:
    normal = zygapophysis_normal(side)
    x = np.array([1.0, 0.0, 0.0])
    return np.column_stack([x, np.cross(normal, x), normal])


def expected_centroids(x: float) -> dict[tuple[str, str], np.ndarray]:
    """Facet centroids at the joint plane x, by kind and by whether it lies on the headward or tailward element."""
    found = {
        ("centrum", "headward"): np.array([x + 0.05, 0, 0]),
        ("centrum", "tailward"): np.array([x - 0.05, 0, 0]),
    }
    for side, word in ((1, "left"), (-1, "right")):
        foot = np.array([x, side * ZYGAPOPHYSIS_Y, ZYGAPOPHYSIS_Z])
        found[f"{word} zygapophysis", "tailward"] = foot
        found[f"{word} zygapophysis", "headward"] = foot + ZYGAPOPHYSIS_GAP * zygapophysis_normal(side)
    return found


def make_vertebra(x: float, head: bool = True, tail: bool = True) -> Surface:
    """A vertebra with its centre at x: a centrum, an arch, and plates that carry the zygapophyses at either end."""
    parts = [
        make_box(CENTRUM, (x, 0, 0)),
        make_box((0.5, 0.1, 0.5), (x, 0.3, 0.45)),
        make_box((0.5, 0.1, 0.5), (x, -0.3, 0.45)),
        make_box((0.4, 0.7, 0.1), (x, 0, 0.75)),
    ]
    for side in (1, -1):
        normal = zygapophysis_normal(side)
        foot = np.array([0.0, side * ZYGAPOPHYSIS_Y, ZYGAPOPHYSIS_Z])
        if head:
            parts.append(
                make_box(PLATE, np.add(foot, (x + PITCH / 2, 0, 0)) - normal * PLATE[2] / 2, _plate_turn(side))
            )
        if tail:
            up = normal * (ZYGAPOPHYSIS_GAP + PLATE[2] / 2)
            parts.append(make_box(PLATE, np.add(foot, (x - PITCH / 2, 0, 0)) + up, _plate_turn(side)))
    return join(*parts)


def prepare(name: str, surface: Surface, size: float | None = None) -> Partner:
    """An element ready for joints; its size may be given, so that shares of it are round numbers."""
    repaired, solid = survey_body(surface)
    volume = solid.volume_m3 if size is None else size**3
    return prepare_partner(name, repaired, volume, solid.centre_m)


def pick_patch(kind: str, element: Partner, where) -> Patch:
    """A facet as the samples that a rule on points and normals picks."""
    index = np.flatnonzero(where(element.samples.points, element.samples.normals))
    return Patch(kind, element, index, 0.0)


def make_sector(inner: float, outer: float, start: float, end: float, low: float, high: float, steps=48) -> Surface:
    """A sector of a ring about the x axis, from angle start to end [rad, from y towards z], x from low to high."""
    angles = np.linspace(start, end, steps + 1)
    circle = np.column_stack([np.zeros_like(angles), np.cos(angles), np.sin(angles)])
    rings = [r * circle + (x, 0, 0) for x, r in ((low, inner), (low, outer), (high, outer), (high, inner))]
    n = steps + 1
    faces = []
    for a in range(4):
        b = (a + 1) % 4
        for k in range(steps):
            p, q, r, s = a * n + k, b * n + k, b * n + k + 1, a * n + k + 1
            faces += [(p, q, r), (p, r, s)]
    for k, turned in ((0, True), (steps, False)):
        p, q, r, s = (a * n + k for a in range(4))
        ends = [(p, q, r), (p, r, s)]
        faces += [face[::-1] for face in ends] if turned else ends
    mesh = trimesh.Trimesh(np.concatenate(rings), faces, process=False)
    mesh.fix_normals()
    return from_trimesh(mesh)
