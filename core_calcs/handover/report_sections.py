"""What the report says, worked out for its template: every figure as text, with its unit and state."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..site.site import Site
from ..studies.assessment import Assessment, State, name_told
from ..studies.checks import lies_outside
from .quantities import (
    NOT_KNOWN,
    choose_unit,
    format_column,
    format_figure,
    format_fixed,
    format_quantity,
)
from .report_lines import Line
from .state_marks import STATE_MARKS, StateMark

STANDS, IN_RANGE = "Stands", "Joints inside the bony range"
"""The checks whose states stand beside the figures on top."""


@dataclass(frozen=True)
class KeyFigure:
    """One of the figures on top: a label, the figure, a line of small print, and a state where a check gives one."""

    label: str
    figure: str
    note: str
    state: State | None = None

    @property
    def mark(self) -> StateMark | None:
        """How its state is shown."""
        return STATE_MARKS[self.state] if self.state else None


def list_key_figures(assessment: Assessment, site: Site) -> tuple[KeyFigure, ...]:
    """Mass, centre, margin, tip angle, base moment and joint limits of a pose."""
    a = assessment
    weight = float(abs(a.base_force_N[2]))
    x, y = (format_quantity(float(v), "m") for v in a.centre_m[:2])
    moment = float(np.hypot(*a.base_moment_Nm[:2]))
    known = [use for use in a.uses if use.beyond_rad is not None]
    beyond = [use for use in known if lies_outside(use)]
    unknown = len(a.uses) - len(known)
    height_uncertainty = None if a.uncertainties.centre_m is None else float(a.uncertainties.centre_m[2])
    return (
        KeyFigure(
            "Mass",
            f"{format_figure(a.mass_kg)} kg",
            f"± {format_figure(a.mass_uncertainty_kg, 2)} kg; weight {format_quantity(weight, 'N')}",
        ),
        KeyFigure(
            "Centre of mass, height",
            format_quantity(float(a.centre_m[2]) - site.ground_m, "m"),
            f"{_describe_uncertainty(height_uncertainty, 'm')}above the ground, at x {x}, y {y}",
        ),
        KeyFigure(
            "Distance margin",
            format_quantity(a.distance_margin_m, "m"),
            f"{_describe_uncertainty(a.uncertainties.distance_margin_m, 'm')}to the nearest edge of the support polygon"
            if a.edges
            else "there is no support polygon",
            _state_of(a, STANDS),
        ),
        KeyFigure(
            "Tip angle",
            format_quantity(a.tip_angle_rad, "rad"),
            "about the edge that governs" if a.edges else "there is no support polygon",
        ),
        KeyFigure(
            "Base moment",
            format_quantity(moment, "N·m"),
            f"{_describe_uncertainty(a.uncertainties.base_moment_Nm, 'N·m')}horizontal, about the datum",
        ),
        KeyFigure(
            "Joints outside the bony range",
            str(len(beyond)),
            f"of {len(a.uses)} that move" + (f"; {unknown} without known limits" if unknown else ""),
            _state_of(a, IN_RANGE),
        ),
    )


def _describe_uncertainty(uncertainty: float | None, unit: str) -> str:
    return "" if uncertainty is None else f"± {format_quantity(uncertainty, unit, 2)}; "


def _state_of(assessment: Assessment, name: str) -> State | None:
    return next((check.state for check in assessment.checks if check.name == name), None)


def list_checks(assessment: Assessment) -> tuple[Line, ...]:
    """Name, figure, limit and worst place of every check, with what the figure means where it does not tell.

    What several lack is told of the first of them.
    """
    lines = []
    for check, told in zip(assessment.checks, name_told(assessment.checks), strict=True):
        figure, limit = (format_quantity(value, check.unit) for value in (check.figure, check.limit))
        place = (
            check.place if check.state != "not known" else (f"as for {told}" if told else check.missing or check.place)
        )
        place = "; ".join(part for part in (place, check.meaning) if part)
        limit = "–" if check.limit is None and check.state != "not known" else limit
        lines.append(Line((check.name, figure, limit, place or "–"), check.state, check.state))
    return tuple(lines)


def list_feet(assessment: Assessment) -> tuple[Line, ...]:
    """Force under each foot, with its range and its share of the weight."""
    weight = float(abs(assessment.base_force_N[2]))
    unit, scale = choose_unit([weight], "N")
    ranges = [foot.range_N or (None, None) for foot in assessment.feet]
    forces = [foot.force_N for foot in assessment.feet]
    figures = [value for foot in zip(forces, ranges, strict=True) for value in (foot[0], *foot[1])]
    texts = format_column([None if value is None else value * scale for value in figures])
    lines = []
    for i, foot in enumerate(assessment.feet):
        share = None if foot.force_N is None or not weight else 100 * foot.force_N / weight
        name = foot.foot if foot.bears else f"{foot.foot} (does not bear)"
        cells = (name, *(_add_unit(text, unit) for text in texts[3 * i : 3 * i + 3]))
        lines.append(Line((*cells, _add_unit(format_fixed(share, 1), "%"), str(len(foot.points_m)))))
    return tuple(lines)


def list_edges(assessment: Assessment) -> tuple[Line, ...]:
    """Ends, distance and tip angle of each edge; the one that governs is named."""
    least = min((edge.distance_m for edge in assessment.edges), default=0.0)
    lines = []
    for number, edge in enumerate(assessment.edges, start=1):
        ends = [f"{format_fixed(float(p[0]), 3)}, {format_fixed(float(p[1]), 3)}" for p in (edge.start_m, edge.end_m)]
        name = f"{number} (governs)" if edge.distance_m == least else str(number)
        tip = f"{format_fixed(math.degrees(edge.tip_angle_rad), 1)}°"
        lines.append(
            Line((name, *ends, format_quantity(edge.distance_m, "m"), tip, format_quantity(edge.energy_J, "J")))
        )
    return tuple(lines)


def list_base(assessment: Assessment) -> tuple[Line, ...]:
    """Force and moment of the whole on the ground, by component."""
    lines = []
    for name, vector, unit in (
        ("Force on the ground", assessment.base_force_N, "N"),
        ("Moment about the datum", assessment.base_moment_Nm, "N·m"),
        ("Datum", assessment.datum_m, "m"),
        ("Centre of mass", assessment.centre_m, "m"),
    ):
        shown, scale = ("m", 1.0) if unit == "m" else choose_unit(vector, unit)
        cells = [format_fixed(float(v) * scale, 3) for v in vector]
        lines.append(Line((name, *cells, shown)))
    return tuple(lines)


def _add_unit(text: str, unit: str) -> str:
    return text if text == NOT_KNOWN else f"{text} {unit}"
