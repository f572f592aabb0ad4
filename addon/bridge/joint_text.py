"""A joint in words: how sure it is, where its movements end and why, where it stands now."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from ..core_calcs.skeleton.joint import Joint, Stop
from ..core_calcs.studies.assessment import JointUse
from ..core_calcs.studies.checks import ANGLE_ROUNDING_RAD, ONLY_TOGETHER, lies_outside_together
from ..core_calcs.studies.stops import AxisUse, judge_range, use_axes
from ..translations.phrases import say, tell
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
    uncertainties : standard errors of the fit; empty where there is none
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
    uncertainties: str
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
        _word_uncertainty(joint, units),
        _word_settings(joint),
        _word_disc(joint, units),
    )


def tell_found(joint: Joint) -> str:
    """What was found of a joint: how sure it is, whether it turns, what on."""
    values = {"element": joint.child, "sure": tell(joint.confidence), "reason": tell(joint.reason)}
    if joint.moves:
        return say("{element}: {sure}, turns: {reason}", **values)
    return say("{element}: {sure}, fixed: {reason}", **values)


def word_stop(own: AxisUse) -> str:
    """That a joint stands at the end of a movement or beyond it, with what ends it."""
    end = own.reached
    values = {"axis": tell(own.axis), "stop": word_angle(end.angle_rad), "reason": tell(REASONS[end.reason])}
    if own.state == "fails":
        return say("{axis} {angle} beyond its stop at {stop}: {reason}", angle=word_angle(own.beyond_rad), **values)
    return say("{axis} stops at {stop}: {reason}", **values)


def word_inside(inside_rad: float) -> str:
    """How far inside its bony range a joint stands, or how far beyond it."""
    if inside_rad < -ANGLE_ROUNDING_RAD:
        return say("{angle} beyond", angle=word_angle(-inside_rad))
    shown = word_angle(max(inside_rad, 0.0))
    return say("at its boundary") if shown == word_angle(0.0) else say("{angle} inside", angle=shown)


def tell_together(use: JointUse | None) -> str:
    """That a joint is outside its range although each of its axes is inside its own limits; else empty."""
    return tell(ONLY_TOGETHER) if use is not None and lies_outside_together(use) else ""


def word_angle(angle_rad: float) -> str:
    """In degrees, with a decimal; a sign where it is below zero."""
    return f"{round(math.degrees(angle_rad), 1) + 0.0:.1f}°"


def _word_axis(own: AxisUse, known: bool) -> AxisFigure:
    ends = () if own.limit is None else (_word_end(own.limit.low), _word_end(own.limit.high))
    if own.limit is not None and own.limit.low.reason == "held":
        ends = ends[:1]
    state = own.state if known else NOT_KNOWN
    angle = word_angle(own.angle_rad) if known else tell(NOT_KNOWN)
    if own.state == "fails":
        angle = say("{angle}, {beyond} beyond", angle=angle, beyond=word_angle(own.beyond_rad))
    elif own.reached is not None:
        angle = say("{angle}, at its stop", angle=angle)
    return AxisFigure(tell(own.axis).capitalize(), state, angle, ends)


def _word_range(use: JointUse | None) -> tuple[str, str]:
    if use is None or use.inside_rad is None:
        return NOT_KNOWN, tell(NOT_KNOWN)
    return judge_range(use), word_inside(use.inside_rad)


def _word_end(end: Stop) -> tuple[str, str]:
    return word_angle(end.angle_rad), tell(REASONS[end.reason])


def _word_facets(joint: Joint) -> str:
    shapes = Counter(facet.surface.shape for facet in joint.facets if facet.surface is not None)
    unsure = sum(facet.confidence == "ambiguous" for facet in joint.facets)
    if not joint.facets:
        return ""
    surfaces = ", ".join(
        say("{count} on a {shape}", count=count, shape=tell(shape)) for shape, count in shapes.most_common()
    )
    one, many = say("1 facet"), say("{count} facets", count=len(joint.facets))
    told = ": ".join(part for part in (many if len(joint.facets) > 1 else one, surfaces) if part)
    return say("{facets}; {count} in doubt", facets=told, count=unsure) if unsure else told


def _word_uncertainty(joint: Joint, units: Units) -> str:
    uncertainty = joint.frame_uncertainty
    if uncertainty is None:
        return ""
    length = units.length
    centre = say("nothing pins it down")
    if uncertainty.centre_m is not None:
        centre = f"±\u00a0{write_out(uncertainty.centre_m / length.size, 2)} {length.name}"
    axes = tell(NOT_KNOWN) if uncertainty.axes_rad is None else f"±\u00a0{word_angle(uncertainty.axes_rad)}"
    told = centre if uncertainty.axes_rad == 0.0 else say("{centre}; of its axes: {axes}", centre=centre, axes=axes)
    what = tell(uncertainty.rests_on)
    return say("Standard error of the centre: {uncertainties}. Rests on {what}", uncertainties=told, what=what)


def _word_settings(joint: Joint) -> str:
    own = joint.settings
    if own is None:
        return ""
    told = say(
        "Limits at overlap {overlap}; contact {contact}, gap {gap}, slide {slide} of its size; searched to {angle}",
        overlap=f"{own.overlap_share:.0%}",
        contact=f"{own.contact_share_s:.1%}",
        gap=f"{own.gap_share_s:.1%}",
        slide=f"{own.slide_share_s:.1%}",
        angle=word_angle(own.search_rad),
    )
    return f"{told}. {_word_coupling(joint)}" if joint.limits is not None else told


def _word_coupling(joint: Joint) -> str:
    """What is known of how far the axes go together."""
    turning = sum(limit.low.reason != "held" for limit in joint.limits or ())
    if turning == 1:
        return say("Turns about one axis: its two limits are its whole range")
    if joint.envelope is not None:
        return say("What its axes allow together was searched for as well")
    return say("What its axes allow together is not known: each limit counts by itself")


def _word_disc(joint: Joint, units: Units) -> str:
    if joint.gap_m is None:
        return ""
    length = units.length
    thick = f"{write_out(joint.gap_m / length.size, 3)} {length.name}"
    if joint.disc is None:
        return say("Disc {thickness} thick at neutral, as scanned", thickness=thick)
    return say("Disc {thickness} thick at neutral, as set: {reason}", thickness=thick, reason=joint.disc.reason)
