"""Everything that weighs in one list: elements, discs and the steel in each element."""

from __future__ import annotations

from dataclasses import dataclass

from ..skeleton.tree import Skeleton
from ..studies.assessment import Assessment


@dataclass(frozen=True)
class Piece:
    """One thing that weighs, where it is along the body.

    kind : "element", "disc" or "steelwork"
    series : of the element, or of the one that carries it
    x_m : of its centre, world
    weighed : its mass is what it was found to weigh
    """

    name: str
    kind: str
    series: str
    x_m: float
    mass_kg: float
    mass_doubt_kg: float
    weighed: bool


def list_pieces(skeleton: Skeleton, assessment: Assessment) -> tuple[Piece, ...]:
    """Every piece, in the order of x: the tail first."""
    series = {element.name: element.series for element in skeleton.elements}
    pieces = [
        Piece(m.element, "element", series[m.element], float(m.centre_m[0]), m.mass_kg, m.mass_doubt_kg, m.weighed)
        for m in assessment.masses
    ]
    pieces += [
        Piece(p.name, p.kind, series[p.element], float(p.centre_m[0]), p.mass_kg, p.mass_doubt_kg, p.weighed)
        for p in assessment.parts
    ]
    return tuple(sorted(pieces, key=lambda piece: piece.x_m))
