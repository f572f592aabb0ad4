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
from ..studies.assessment import Assessment, ElementMass, JointLoad, JointUse, PartMass, State
from ..studies.checks import ANGLE_ROUNDING_RAD
from .column import list_column_joints
from .moment_figure import resultant_bending
from .quantities import (
    NOT_KNOWN,
    choose_unit,
    format_column,
    format_figure,
    format_fixed,
    format_quantity,
    format_setting,
)
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
    height_doubt = None if a.doubts.centre_m is None else float(a.doubts.centre_m[2])
    return (
        KeyFigure(
            "Mass",
            f"{format_figure(a.mass_kg)} kg",
            f"± {format_figure(a.mass_doubt_kg, 2)} kg; weight {format_quantity(weight, 'N')}",
        ),
        KeyFigure(
            "Centre of mass, height",
            format_quantity(float(a.centre_m[2]) - site.ground_m, "m"),
            f"{_describe_doubt(height_doubt, 'm')}above the ground, at x {x}, y {y}",
        ),
        KeyFigure(
            "Distance margin",
            format_quantity(a.distance_margin_m, "m"),
            f"{_describe_doubt(a.doubts.distance_margin_m, 'm')}to the nearest edge of the support polygon"
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
            f"{_describe_doubt(a.doubts.base_moment_Nm, 'N·m')}horizontal, about the datum",
        ),
        KeyFigure(
            "Joints beyond their limits",
            str(len(beyond)),
            f"of {len(a.uses)} that move" + (f"; {unknown} without known limits" if unknown else ""),
            _state_of(a, IN_RANGE),
        ),
    )


def _describe_doubt(doubt: float | None, unit: str) -> str:
    return "" if doubt is None else f"± {format_quantity(doubt, unit, 2)}; "


def _state_of(assessment: Assessment, name: str) -> State | None:
    return next((check.state for check in assessment.checks if check.name == name), None)


def list_checks(assessment: Assessment) -> tuple[Line, ...]:
    """Name, figure, limit and worst place of every check, with what the figure means where it does not tell."""
    lines = []
    for check in assessment.checks:
        figure, limit = (format_quantity(value, check.unit) for value in (check.figure, check.limit))
        place = check.place if check.state != "not known" else (check.missing or check.place)
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


def list_moving_joints(skeleton: Skeleton, assessment: Assessment) -> tuple[tuple[Line, ...], str]:
    """Angles in their limits, state, bending and torsion of every joint that moves, and the moments' unit.

    Those of the column come first, from the head to the tip of the tail.
    """
    loads = {load.child: load for load in assessment.joints}
    uses = {use.child: use for use in assessment.uses}
    column = list_column_joints(skeleton)
    place = {name: i for i, name in enumerate((*column.forward, *column.backward))}
    moving = [joint for joint in skeleton.joints if joint.moves]
    moving.sort(key=lambda joint: place.get(joint.child, len(place)))
    moments = [m for joint in moving if joint.child in loads for m in _moments(loads[joint.child])]
    unit, scale = choose_unit([m for m in moments if m is not None], "N·m")
    pairs = [_moments(loads[joint.child]) if joint.child in loads else (None, None) for joint in moving]
    texts = format_column([None if m is None else m * scale for pair in pairs for m in pair])
    lines = []
    for i, joint in enumerate(moving):
        state, text = _state_in_limits(joint, uses.get(joint.child))
        angles = (_angle_in_limits(joint, uses.get(joint.child), axis) for axis in range(3))
        lines.append(Line((joint.child, *angles, *texts[2 * i : 2 * i + 2]), state, text))
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
    if low.reason == "held":
        return f"{angle}, held"
    ends = [f"{format_fixed(math.degrees(end.angle_rad), 1)} {REASON_LETTERS[end.reason]}" for end in (low, high)]
    return f"{angle} in {ends[0]} to {ends[1]}"


REASON_LETTERS = {
    "bone contact": "c", "facet overlap": "o", "gap": "g", "search range": "s", "held": "-", "by hand": "h",
}  # fmt: skip


def _state_in_limits(joint: Joint, use: JointUse | None) -> tuple[State, str]:
    if use is None or use.beyond_rad is None:
        return "not known", NOT_KNOWN
    beyond = np.asarray(use.beyond_rad, float)
    worst = int(np.argmax(beyond))
    if beyond[worst] <= ANGLE_ROUNDING_RAD:
        return "holds", "inside"
    return "fails", f"{AXES[worst]} {format_fixed(math.degrees(beyond[worst]), 1)}° beyond"


def list_series_masses(skeleton: Skeleton, assessment: Assessment) -> tuple[Line, ...]:
    """Elements, mass, doubt and share of each series, of discs and steelwork, and of the whole."""
    series = {element.name: element.series for element in skeleton.elements}
    names: list[str] = list(dict.fromkeys(element.series for element in skeleton.elements))
    groups: list[list[ElementMass] | list[PartMass]]
    groups = [[mass for mass in assessment.masses if series[mass.element] == name] for name in names]
    for kind in ("disc", "steelwork"):
        if parts := [part for part in assessment.parts if part.kind == kind]:
            names.append({"disc": "discs", "steelwork": "steelwork"}[kind])
            groups.append(parts)
    masses = format_column([*(sum(m.mass_kg for m in group) for group in groups), assessment.mass_kg])
    doubts = format_column([*(sum(m.mass_doubt_kg for m in group) for group in groups), assessment.mass_doubt_kg])
    counts = [*(len(group) for group in groups), len(assessment.masses) + len(assessment.parts)]
    whole = assessment.mass_kg or math.nan
    shares = [*(100 * sum(m.mass_kg for m in group) / whole for group in groups), 100.0]
    rows = zip([*names, "whole"], counts, masses, doubts, shares, strict=True)
    return tuple(
        Line((name, str(count), mass, doubt, f"{format_fixed(share, 1)} %")) for name, count, mass, doubt, share in rows
    )


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


def describe_left_out(skeleton: Skeleton) -> tuple[str, ...]:
    """What is not part of the skeleton, a sentence for each reason."""
    by_reason: dict[str, list[str]] = {}
    for item in skeleton.left_out:
        body = "" if item.body is None else f" (body {item.body})"
        by_reason.setdefault(item.reason or "no reason given", []).append(f"{item.file}{body}")
    return tuple(f"Left out ({reason}): {_list_some(files)}." for reason, files in by_reason.items())


def _list_some(names: Sequence[str], most: int = 4) -> str:
    rest = len(names) - most
    return ", ".join(names[:most]) + (f" and {rest} more" if rest > 0 else "")


def describe_straddling(skeleton: Skeleton) -> tuple[str, ...]:
    """Which elements follow two others, and where their load goes."""
    names = [joint.child for joint in skeleton.joints if joint.also is not None]
    if not names:
        return ()
    told = "stands halfway between two others" if len(names) == 1 else "stand halfway between two others each"
    return (f"{_list_some(names)} {told}; its whole load is given to the first of them, though both may share it.",)


def describe_limits(skeleton: Skeleton) -> tuple[str, ...]:
    """The settings that the limits were computed with, once for each set of settings in use."""
    used = Counter(joint.settings for joint in skeleton.joints if joint.moves and joint.settings)
    sentences = []
    for s, count in used.most_common():
        contact, slide, gap = (
            format_setting(100 * x, "%") for x in (s.contact_share_s, s.slide_share_s, s.gap_share_s)
        )
        sentences.append(
            f"{count} joints: facet overlap at least {format_setting(100 * s.overlap_share, '%')}; contact up to "
            f"{contact}, sliding up to {slide}, gap up to {gap} more than in the neutral articulation, each of the "
            "element's size (cube root of its volume); searched to "
            f"{format_fixed(math.degrees(s.search_rad), 0)}°."
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
