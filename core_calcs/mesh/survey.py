"""What a surface is: closed or not, which way it is wound, of how many bodies, and what it encloses."""

from __future__ import annotations

import numpy as np

from ..spatial.errors import MeshFileError
from .bodies import join_surfaces, merge_vertices, split_bodies
from .mass_properties import MassProperties, join_properties
from .overlaps import bound_overlap
from .records import BodyRecord
from .samples import sample_surface
from .sampling import spread_points
from .shape import measure_shape
from .solid import MeshState, Solid
from .surface import Surface
from .winding import repair_body

SAMPLES = 1500
"""Points by area that a record keeps of a body: a fifteenth of a vertebra's size apart."""

_ORDER: tuple[MeshState, ...] = (
    "closed", "open", "inside out", "mixed winding", "doubled surface", "several bodies", "duplicate", "empty",
)  # fmt: skip


def survey_body(surface: Surface) -> tuple[Surface, Solid]:
    """The surface of one element put right (merged, one skin, every body wound outwards), and what it encloses.

    Holes are not closed in the surface; for the volume each is closed by a fan, and the error says how far that may
    be off. Several bodies are summed; the error then holds what they may have in common.
    """
    pieces = [survey_piece(body) for body in split_bodies(merge_vertices(surface))]
    return join_pieces(pieces)


def survey_piece(body: Surface) -> tuple[Surface, Solid]:
    """The same for one connected body of a merged surface."""
    repair = repair_body(body)
    return repair.surface, _make_solid(repair.surface, repair.properties, repair.error_m3, repair.states)


def join_pieces(pieces: list[tuple[Surface, Solid]]) -> tuple[Surface, Solid]:
    """Several bodies of one element taken together."""
    if not pieces:
        nothing = Surface(np.empty((0, 3)), np.empty((0, 3), np.int64))
        return nothing, Solid(0.0, 0.0, np.zeros(3), np.zeros((3, 3)), np.zeros(3), np.zeros(3), 0, ("empty",))
    if len(pieces) == 1:
        return pieces[0]
    solids = [solid for _, solid in pieces]
    joined = join_surfaces(tuple(surface for surface, _ in pieces))
    properties = join_properties([MassProperties(s.volume_m3, s.centre_m, s.inertia_m5) for s in solids])
    error = sum(solid.volume_error_m3 for solid in solids) + bound_overlap([surface for surface, _ in pieces])
    found = {state for solid in solids for state in solid.states} | {"several bodies"}
    if "open" in found:
        found.discard("closed")
    return joined, _make_solid(joined, properties, error, tuple(state for state in _ORDER if state in found))


def make_record(number: int | None, surface: Surface, solid: Solid) -> BodyRecord:
    """What a survey keeps of a body; of one without area its corners alone."""
    points = spread_points(surface.vertices)
    try:
        samples = sample_surface(surface, np.inf, SAMPLES, SAMPLES).points
    except MeshFileError:
        samples = points
    return BodyRecord(number, solid, points, samples, measure_shape(surface, solid))


def _make_solid(surface: Surface, found: MassProperties, error: float, states: tuple[MeshState, ...]) -> Solid:
    lower, upper = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    triangles = len(surface.faces)
    return Solid(found.volume_m3, error, found.centre_m, found.inertia_m5, lower, upper, triangles, states)
