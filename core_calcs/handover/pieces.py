"""Everything that weighs in one list: elements, discs and the steel in each element."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..skeleton.tree import Skeleton
from ..studies.assessment import Assessment
from .figure_names import SERIES_NAMES


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
    mass_uncertainty_kg: float
    weighed: bool


def list_pieces(skeleton: Skeleton, assessment: Assessment) -> tuple[Piece, ...]:
    """Every piece, in the order of x: the tail first."""
    series = {element.name: element.series for element in skeleton.elements}
    pieces = [
        Piece(
            m.element, "element", series[m.element], float(m.centre_m[0]), m.mass_kg, m.mass_uncertainty_kg, m.weighed
        )
        for m in assessment.masses
    ]
    pieces += [
        Piece(p.name, p.kind, series[p.element], float(p.centre_m[0]), p.mass_kg, p.mass_uncertainty_kg, p.weighed)
        for p in assessment.parts
    ]
    return tuple(sorted(pieces, key=lambda piece: piece.x_m))


def name_group(piece: Piece) -> str:
    """The series as it is called, or what sort of part it is."""
    if piece.kind != "element":
        return {"disc": "discs"}.get(piece.kind, piece.kind)
    return SERIES_NAMES.get(piece.series, piece.series)


def list_groups(pieces: Iterable[Piece]) -> list[tuple[str, list[Piece]]]:
    """Pieces by series, discs and steelwork each for themselves: the heaviest group first."""
    groups: dict[str, list[Piece]] = {}
    for piece in pieces:
        groups.setdefault(name_group(piece), []).append(piece)
    return sorted(groups.items(), key=lambda group: -sum(piece.mass_kg for piece in group[1]))
