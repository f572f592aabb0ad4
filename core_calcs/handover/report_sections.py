"""What the report says, worked out for its template: every figure as text, with its unit and state."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..skeleton.joint import AXES, Joint
from ..skeleton.tree import Skeleton
from ..statics.site import Site
from ..studies.assessment import Assessment, JointLoad, JointUse, State
from ..studies.checks import ANGLE_ROUNDING_RAD
from .moment_figure import resultant_bending
from .quantities import NOT_KNOWN, choose_unit, format_figure, format_fixed, format_quantity
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


@dataclass(frozen=True)
class Line:
    """One row of a table: its cells, and a state where it has one."""

    cells: tuple[str, ...]
    state: State | None = None
    state_text: str = ""

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
    beyond = [use for use in known if np.any(np.asarray(use.beyond_rad) > ANGLE_ROUNDING_RAD)]
    unknown = len(a.uses) - len(known)
    return (
        KeyFigure(
            "Mass",
            f"{format_figure(a.mass_kg)} kg",
            f"± {format_figure(a.mass_doubt_kg, 2)} kg; weight {format_quantity(weight, 'N')}",
        ),
        KeyFigure(
            "Centre of mass, height",
            format_quantity(float(a.centre_m[2]) - site.ground_m, "m"),
            f"above the ground, at x {x}, y {y}",
        ),
        KeyFigure(
            "Distance margin",
            format_quantity(a.distance_margin_m, "m"),
            "to the nearest edge of the support polygon" if a.edges else "there is no support polygon",
            _state_of(a, STANDS),
        ),
        KeyFigure(
            "Tip angle",
            format_quantity(a.tip_angle_rad, "rad"),
            "about the edge that governs" if a.edges else "there is no support polygon",
        ),
        KeyFigure("Base moment", format_quantity(moment, "N·m"), "horizontal, about the datum"),
        KeyFigure(
            "Joints beyond their limits",
            str(len(beyond)),
            f"of {len(a.uses)} that move" + (f"; {unknown} without known limits" if unknown else ""),
            _state_of(a, IN_RANGE),
        ),
    )


def _state_of(assessment: Assessment, name: str) -> State | None:
    return next((check.state for check in assessment.checks if check.name == name), None)


def list_checks(assessment: Assessment) -> tuple[Line, ...]:
    """Name, figure, limit and worst place of every check."""
    lines = []
    for check in assessment.checks:
        figure, limit = (format_quantity(value, check.unit) for value in (check.figure, check.limit))
        place = check.place if check.state != "not known" else (check.missing or check.place)
        limit = "–" if check.limit is None and check.state != "not known" else limit
        lines.append(Line((check.name, figure, limit, place or "–"), check.state, check.state))
    return tuple(lines)


def list_feet(assessment: Assessment) -> tuple[Line, ...]:
    """Force under each foot, with its range and its share of the weight."""
    weight = float(abs(assessment.base_force_N[2]))
    known = [v for foot in assessment.feet for v in (foot.force_N, *(foot.range_N or ())) if v is not None]
    unit, scale = choose_unit([*known, weight], "N")
    lines = []
    for foot in assessment.feet:
        least, greatest = (None, None) if foot.range_N is None else foot.range_N
        share = None if foot.force_N is None or not weight else 100 * foot.force_N / weight
        figures = [None if v is None else v * scale for v in (foot.force_N, least, greatest)]
        cells = [foot.foot, *(_add_unit(format_figure(v), unit) for v in figures)]
        cells += [NOT_KNOWN if share is None else f"{format_fixed(share, 1)} %", str(len(foot.points_m))]
        lines.append(Line(tuple(cells)))
    return tuple(lines)


def list_edges(assessment: Assessment) -> tuple[Line, ...]:
    """Ends, distance and tip angle of each edge; the one that governs is named."""
    least = min((edge.distance_m for edge in assessment.edges), default=0.0)
    lines = []
    for number, edge in enumerate(assessment.edges, start=1):
        ends = [f"{format_fixed(float(p[0]), 3)}, {format_fixed(float(p[1]), 3)}" for p in (edge.start_m, edge.end_m)]
        name = f"{number} (governs)" if edge.distance_m == least else str(number)
        tip = f"{format_fixed(math.degrees(edge.tip_angle_rad), 1)}°"
        lines.append(Line((name, *ends, format_quantity(edge.distance_m, "m"), tip)))
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


def list_moving_joints(skeleton: Skeleton, assessment: Assessment) -> tuple[tuple[Line, ...], str]:
    """Angles in their limits, state, bending and torsion of every joint that moves, and the moments' unit."""
    loads = {load.child: load for load in assessment.joints}
    uses = {use.child: use for use in assessment.uses}
    moving = [joint for joint in skeleton.joints if joint.moves]
    moments = [m for joint in moving if joint.child in loads for m in _moments(loads[joint.child])]
    unit, scale = choose_unit([m for m in moments if m is not None], "N·m")
    lines = []
    for joint in moving:
        state, text = _state_in_limits(joint, uses.get(joint.child))
        figures = _moments(loads[joint.child]) if joint.child in loads else (None, None)
        shown = (format_figure(None if m is None else m * scale) for m in figures)
        angles = (_angle_in_limits(joint, uses.get(joint.child), axis) for axis in range(3))
        lines.append(Line((joint.child, *angles, *shown), state, text))
    return tuple(lines), unit


def _moments(load: JointLoad) -> tuple[float | None, float | None]:
    bending = resultant_bending(load)
    return (None if math.isnan(bending) else bending), load.torsion_Nm


def _angle_in_limits(joint: Joint, use: JointUse | None, axis: int) -> str:
    """E.g. "3.0 in −12.1 c to 9.8 o": the angle, and where each way ends and why, by its letter."""
    angle = format_fixed(math.degrees(use.angles_rad[axis]), 1) if use else NOT_KNOWN
    if joint.limits is None:
        return f"{angle} in {NOT_KNOWN}"
    low, high = joint.limits[axis].low, joint.limits[axis].high
    ends = [f"{format_fixed(math.degrees(end.angle_rad), 1)} {REASON_LETTERS[end.reason]}" for end in (low, high)]
    return f"{angle} in {ends[0]} to {ends[1]}"


REASON_LETTERS = {"bone contact": "c", "facet overlap": "o", "gap": "g", "search range": "s", "by hand": "h"}


def _state_in_limits(joint: Joint, use: JointUse | None) -> tuple[State, str]:
    if use is None or use.beyond_rad is None:
        return "not known", NOT_KNOWN
    beyond = np.asarray(use.beyond_rad, float)
    worst = int(np.argmax(beyond))
    if beyond[worst] <= ANGLE_ROUNDING_RAD:
        return "holds", "inside"
    return "fails", f"{AXES[worst]} {format_fixed(math.degrees(beyond[worst]), 1)}° beyond"


def list_series_masses(skeleton: Skeleton, assessment: Assessment) -> tuple[Line, ...]:
    """Elements, mass, doubt and share of each series, and of the whole."""
    series = {element.name: element.series for element in skeleton.elements}
    lines = []
    for name in dict.fromkeys(element.series for element in skeleton.elements):
        masses = [mass for mass in assessment.masses if series[mass.element] == name]
        mass, doubt = sum(m.mass_kg for m in masses), sum(m.mass_doubt_kg for m in masses)
        share = f"{format_fixed(100 * mass / assessment.mass_kg, 1)} %" if assessment.mass_kg else "–"
        lines.append(Line((name, str(len(masses)), format_figure(mass), format_figure(doubt, 2), share)))
    whole = (format_figure(assessment.mass_kg), format_figure(assessment.mass_doubt_kg, 2), "100 %")
    return (*lines, Line(("whole", str(len(assessment.masses)), *whole)))


def describe_surfaces(skeleton: Skeleton) -> str:
    """How many elements have which mesh state, and where they come from."""
    states = Counter(state for element in skeleton.elements for state in element.solid.states)
    origins = Counter(element.origin for element in skeleton.elements)
    return (
        f"Mesh states: {_list_counts(states.most_common())}. "
        f"Origin of the elements: {_list_counts([(_ORIGINS.get(o, o), n) for o, n in origins.most_common()])}."
    )


_ORIGINS = {"not known": "origin not known"}


def _list_counts(counts: Sequence[tuple[str, int]]) -> str:
    return ", ".join(f"{name} {number}" for name, number in counts)


def describe_limits(skeleton: Skeleton) -> tuple[str, ...]:
    """The settings that the limits were computed with, once for each set of settings in use."""
    used = Counter(joint.settings for joint in skeleton.joints if joint.moves and joint.settings)
    sentences = []
    for s, count in used.most_common():
        sentences.append(
            f"{count} joints: facet overlap at least {format_figure(100 * s.overlap_share)} %, contact up to "
            f"{format_figure(s.contact_share_s)} s, sliding up to {format_figure(s.slide_share_s)} s, gap up to "
            f"{format_figure(s.gap_share_s)} s more than in the neutral articulation, searched to "
            f"{format_fixed(math.degrees(s.search_rad), 0)}°; s is the cube root of an element's volume."
        )
    by_hand = sum(joint.moves and joint.settings is None and joint.limits is not None for joint in skeleton.joints)
    without = sum(joint.moves and joint.limits is None for joint in skeleton.joints)
    if by_hand:
        sentences.append(f"{by_hand} joints have limits set by hand.")
    if without:
        sentences.append(f"The limits of {without} joints that move are not known.")
    return tuple(sentences)


def _add_unit(text: str, unit: str) -> str:
    return text if text == NOT_KNOWN else f"{text} {unit}"
