"""Putting a body right: its triangles agree, and its outside is the outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .boundary import close_holes, is_closed
from .mass_properties import MassProperties, measure_polyhedron
from .neighbours import colour_patches, find_neighbours
from .skins import keep_one_skin
from .solid import MeshState
from .surface import Surface


@dataclass(frozen=True, eq=False)
class Repair:
    """A body put right.

    surface : a single skin, wound outwards; holes stay holes
    properties : of the body with its holes closed by fans
    error_m3 : how far the volume may be off for the holes' sake; 0 where it has none
    states : what it was, in the words of MeshState
    """

    surface: Surface
    properties: MassProperties
    error_m3: float
    states: tuple[MeshState, ...]


def repair_body(body: Surface) -> Repair:
    """One body of a merged surface, put right."""
    skin, doubled = keep_one_skin(body)
    closed = is_closed(skin)
    agreed = skin if closed else agree_windings(skin)
    capped, error = (agreed, 0.0) if closed else close_holes(agreed)
    properties = measure_polyhedron(capped)
    states: list[MeshState] = ["closed" if capped is agreed else "open"]
    inward = properties.volume_m3 < 0
    if agreed is not skin:
        states.append("mixed winding")
    elif inward:
        states.append("inside out")
    if doubled:
        states.append("doubled surface")
    if inward:
        agreed = Surface(agreed.vertices, np.ascontiguousarray(agreed.faces[:, ::-1]))
        properties = MassProperties(-properties.volume_m3, properties.centre_m, -properties.inertia_m5)
    return Repair(agreed, properties, error, tuple(states))


def agree_windings(body: Surface) -> Surface:
    """Turn as few triangles as possible so that neighbours agree; the same object where they do already."""
    pairs, agree = find_neighbours(body.faces)
    if agree.all():
        return body
    turn = colour_patches(len(body.faces), pairs, agree)
    if not turn.any():  # one-sided like a Möbius strip: no winding agrees
        return body
    faces = body.faces.copy()
    faces[turn] = faces[turn][:, ::-1]
    return Surface(body.vertices, faces)
