"""Making the triangles of a body agree, and its outside the outside."""

from __future__ import annotations

import numpy as np

from .boundary import close_holes
from .mass_properties import measure_polyhedron
from .neighbours import colour_patches, find_neighbours
from .skins import keep_one_skin
from .solid import MeshState
from .surface import Surface


def repair_body(body: Surface) -> tuple[Surface, tuple[MeshState, ...]]:
    """One body with a single skin, wound outwards, and what had to be done; holes stay holes."""
    states: list[MeshState] = []
    skin, doubled = keep_one_skin(body)
    if doubled:
        states.append("doubled surface")
    agreed = agree_windings(skin)
    if agreed is not skin:
        states.append("mixed winding")
    if measure_polyhedron(close_holes(agreed)[0]).volume_m3 < 0:
        agreed = Surface(agreed.vertices, np.ascontiguousarray(agreed.faces[:, ::-1]))
        if "mixed winding" not in states:
            states.append("inside out")
    return agreed, tuple(states)


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
