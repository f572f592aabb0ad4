"""What the report says of neck, trunk, tail and limbs as beams: a figure each, and a table of peaks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array
from ..studies.beams import Beam
from .beam_figure import draw_beam, find_peak
from .figure_names import shorten_name
from .quantities import NOT_KNOWN, format_quantity
from .report_lines import Line


@dataclass(frozen=True)
class BeamPart:
    """One chain on the page: its title, and its figure or None where its loads are not known."""

    title: str
    figure: str | None
    shared: bool


def list_beam_parts(beams: Sequence[Beam]) -> tuple[BeamPart, ...]:
    """Every chain, in the order given."""
    return tuple(
        BeamPart(_name(beam), draw_beam(beam, f"beam{i}"), bool(beam.shared.any())) for i, beam in enumerate(beams)
    )


def list_peaks(beams: Sequence[Beam]) -> tuple[Line, ...]:
    """Length and greatest axial force, shear, bending and torsion of every chain, each with its element."""
    lines = []
    for beam in beams:
        figures = (
            (beam.axial_N, "N"),
            (beam.resultant_shear_N, "N"),
            (beam.resultant_bending_Nm, "N·m"),
            (beam.torsion_Nm, "N·m"),
        )
        length = format_quantity(float(beam.station_m[-1]), "m")
        lines.append(Line((_name(beam), length, *(_tell_peak(beam, values, unit) for values, unit in figures))))
    return tuple(lines)


def _tell_peak(beam: Beam, values: Array, unit: str) -> str:
    if np.isnan(values).any():
        return NOT_KNOWN
    at = find_peak(values)
    if at is None:
        return f"0 {unit}"
    return f"{format_quantity(float(values[at]), unit)} at {shorten_name(beam.elements[at])}"


def _name(beam: Beam) -> str:
    return beam.name[:1].upper() + beam.name[1:]
