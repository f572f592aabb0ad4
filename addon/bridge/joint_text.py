"""A joint in words: how sure it is, where its movements end and why, where it stands now."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from ..core_calcs.skeleton.joint import Joint, Stop
from ..core_calcs.studies.assessment import JointUse
from ..core_calcs.studies.checks import ANGLE_ROUNDING_RAD, ONLY_TOGETHER, lies_outside_together
from ..core_calcs.studies.stops import AxisUse, judge_range, use_axes
from .figure_text import NOT_KNOWN
from .units import Units, write_out

REASONS = {
    **{"bone contact": "bone contact", "facet overlap": "facet overlap", "gap": "gap"},
    **{"search range": "not searched farther", "held": "held", "by hand": "set by hand"},
}
"""What ends a movement, as it is shown."""


@dataclass(frozen=True)
class AxisFigure:
    """The movement about one axis in words: the present angle, and for each end the angle and what ends it there.

    One end where the axis is held, none where the limits are not known.
    """

    name: str
    state: str
    angle: str
    ends: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class JointFigure:
    """A joint in words.

    range : state and words on how far inside its bony range it stands, all axes together; None where it does not turn
    together : why it is outside where no axis is beyond its own limits; else empty
    facets : how many it has, on what surfaces, how many in doubt; empty where there are none
    doubts : standard errors of the fit; empty where there is none
    settings : what the limits were computed with; empty where they were not
    disc : how thick its disc is at neutral, and whether that was said; empty where it has no end plates
    """

    child: str
    parent: str
    kind: str
    confidence: str
    reason: str
    axes: tuple[AxisFigure, ...]
    range: tuple[str, str] | None
    together: str
    facets: str
    doubts: str
    settings: str
    disc: str


def word_joint(joint: Joint, use: JointUse | None, units: Units) -> JointFigure:
    """A joint in words; use : of the live pose, None where it is not known."""
    axes = use_axes(joint, use.angles_rad if use is not None else (0.0, 0.0, 0.0)) if joint.moves else ()
    return JointFigure(
        joint.child,
        joint.parent,
        joint.fit.family if joint.fit is not None and joint.moves else joint.kind,
        joint.confidence,
        joint.reason,
        tuple(_word_axis(own, use is not None) for own in axes),
        _word_range(use) if joint.moves else None,
        tell_together(use),
        _word_facets(joint),
        _word_doubts(joint, units),
        _word_settings(joint),
        _word_disc(joint, units),
    )


def word_stop(own: AxisUse) -> str:
    """That a joint stands at the end of a movement or beyond it, with what ends it."""
    end = own.reached
    stop, reason = word_angle(end.angle_rad), REASONS[end.reason]
    if own.state == "fails":
        return f"{own.axis} {word_angle(own.beyond_rad)} beyond its stop at {stop}: {reason}"
    return f"{own.axis} stops at {stop}: {reason}"


def word_inside(inside_rad: float) -> str:
    """How far inside its bony range a joint stands, or how far beyond it."""
    if inside_rad < -ANGLE_ROUNDING_RAD:
        return f"{word_angle(-inside_rad)} beyond"
    shown = word_angle(max(inside_rad, 0.0))
    return "at its boundary" if shown == word_angle(0.0) else f"{shown} inside"


def tell_together(use: JointUse | None) -> str:
    """That a joint is outside its range although each of its axes is inside its own limits; else empty."""
    return ONLY_TOGETHER if use is not None and lies_outside_together(use) else ""


def word_angle(angle_rad: float) -> str:
    """In degrees, with a decimal; a sign where it is below zero."""
    return f"{round(math.degrees(angle_rad), 1) + 0.0:.1f}°"


def _word_axis(own: AxisUse, known: bool) -> AxisFigure:
    ends = () if own.limit is None else (_word_end(own.limit.low), _word_end(own.limit.high))
    if own.limit is not None and own.limit.low.reason == "held":
        ends = ends[:1]
    state = own.state if known else NOT_KNOWN
    angle = word_angle(own.angle_rad) if known else NOT_KNOWN
    if own.state == "fails":
        angle = f"{angle}, {word_angle(own.beyond_rad)} beyond"
    elif own.reached is not None:
        angle = f"{angle}, at its stop"
    return AxisFigure(own.axis.capitalize(), state, angle, ends)


def _word_range(use: JointUse | None) -> tuple[str, str]:
    if use is None or use.inside_rad is None:
        return NOT_KNOWN, NOT_KNOWN
    return judge_range(use), word_inside(use.inside_rad)


def _word_end(end: Stop) -> tuple[str, str]:
    return word_angle(end.angle_rad), REASONS[end.reason]


def _word_facets(joint: Joint) -> str:
    shapes = Counter(facet.surface.shape for facet in joint.facets if facet.surface is not None)
    unsure = sum(facet.confidence == "ambiguous" for facet in joint.facets)
    surfaces = ", ".join(f"{count} on a {shape}" for shape, count in shapes.most_common())
    count = f"{len(joint.facets)} facet{'s' if len(joint.facets) > 1 else ''}"
    told = f"{count}: {surfaces}" if surfaces else count
    return (f"{told}; {unsure} in doubt" if unsure else told) if joint.facets else ""


def _word_doubts(joint: Joint, units: Units) -> str:
    doubt = joint.frame_doubt
    if doubt is None:
        return ""
    length = units.length
    centre = "nothing pins it down"
    if doubt.centre_m is not None:
        centre = f"±\u00a0{write_out(doubt.centre_m / length.size, 2)} {length.name}"
    axes = NOT_KNOWN if doubt.axes_rad is None else f"±\u00a0{word_angle(doubt.axes_rad)}"
    told = centre if doubt.axes_rad == 0.0 else f"{centre}; of its axes: {axes}"
    return f"Standard error of the centre: {told}. Rests on {doubt.rests_on}"


def _word_settings(joint: Joint) -> str:
    own = joint.settings
    if own is None:
        return ""
    shares = f"contact {own.contact_share_s:.1%}, gap {own.gap_share_s:.1%}, slide {own.slide_share_s:.1%} of its size"
    told = f"Limits at overlap {own.overlap_share:.0%}; {shares}; searched to {word_angle(own.search_rad)}"
    return f"{told}. {_word_coupling(joint)}" if joint.limits is not None else told


def _word_coupling(joint: Joint) -> str:
    """What is known of how far the axes go together."""
    turning = sum(limit.low.reason != "held" for limit in joint.limits or ())
    if turning == 1:
        return "Turns about one axis: its two limits are its whole range"
    if joint.envelope is not None:
        return "What its axes allow together was searched for as well"
    return "What its axes allow together is not known: each limit counts by itself"


def _word_disc(joint: Joint, units: Units) -> str:
    if joint.gap_m is None:
        return ""
    length = units.length
    thick = f"Disc {write_out(joint.gap_m / length.size, 3)} {length.name} thick at neutral"
    return f"{thick}, as scanned" if joint.disc is None else f"{thick}, as set: {joint.disc.reason}"
