"""What the report says of mass: the whole with its inertia, the greatest pieces, what is weighed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..studies.assessment import Assessment
from .mass_figure import list_greatest
from .phrases import count_of
from .pieces import Piece, list_groups, name_group
from .quantities import format_column, format_figure, format_fixed
from .report_lines import Line


def list_series_masses(pieces: Sequence[Piece], assessment: Assessment) -> tuple[Line, ...]:
    """Pieces, mass, uncertainty and share of each series, of discs and steelwork, as in the bars; last of the whole."""
    groups = list_groups(pieces)
    sums = [sum(piece.mass_kg for piece in own) for _, own in groups]
    masses = format_column([*sums, assessment.mass_kg])
    uncertainties = format_column(
        [*(sum(piece.mass_uncertainty_kg for piece in own) for _, own in groups), assessment.mass_uncertainty_kg]
    )
    counts = [*(len(own) for _, own in groups), len(pieces)]
    whole = assessment.mass_kg or math.nan
    shares = [*(100 * own / whole for own in sums), 100.0]
    rows = zip([*(name for name, _ in groups), "whole"], counts, masses, uncertainties, shares, strict=True)
    return tuple(
        Line((name, str(count), mass, uncertainty, f"{format_fixed(share, 1)} %"))
        for name, count, mass, uncertainty, share in rows
    )


def list_greatest_pieces(pieces: Sequence[Piece], whole_kg: float) -> tuple[Line, ...]:
    """Name, series, mass, uncertainty, share and origin of the figure of the heaviest pieces."""
    shown = list_greatest(pieces)
    masses = format_column([piece.mass_kg for piece in shown])
    uncertainties = format_column([piece.mass_uncertainty_kg for piece in shown])
    lines = []
    for piece, mass, uncertainty in zip(shown, masses, uncertainties, strict=True):
        share = None if not whole_kg else 100 * piece.mass_kg / whole_kg
        source = "weighed" if piece.weighed else "calculated"
        name = piece.name if piece.kind == "element" else f"{piece.kind} of {piece.name}"
        lines.append(Line((name, name_group(piece), mass, uncertainty, f"{format_fixed(share, 1)} %", source)))
    return tuple(lines)


def list_inertia(assessment: Assessment) -> tuple[str, ...]:
    """Entries xx, yy, zz, xy, xz, yz of the inertia of the whole about its centre [kg m²], world axes."""
    inertia = assessment.inertia_kg_m2
    return tuple(format_figure(float(inertia[i, j]), 4) for i, j in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)))


def describe_origin(pieces: Sequence[Piece]) -> str:
    """How much of the mass was weighed, and how much calculated."""
    weighed = [piece.mass_kg for piece in pieces if piece.weighed]
    rest = [piece.mass_kg for piece in pieces if not piece.weighed]
    if not weighed:
        return "All of it is calculated from surfaces, walls and densities; nothing was weighed."
    told = f"{count_of(len(weighed), 'piece')} of {format_figure(sum(weighed))} kg together were weighed"
    return f"{told}; {format_figure(sum(rest))} kg in {count_of(len(rest), 'piece')} are calculated."
