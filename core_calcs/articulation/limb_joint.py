"""A joint of a limb, whole: facets, family, frame and limits; or fixed, with the reason why it is ambiguous."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..skeleton.element import Side
from ..skeleton.joint import (
    AxisLimit,
    Confidence,
    Facet,
    FrameUncertainty,
    Joint,
    JointFamily,
    JointFit,
    LimitSettings,
    Stop,
)
from ..spatial.progress import Progress, ignore_progress
from ..spatial.rotations import TOGETHER_RAD
from .column_joint import ASKS_FOR_HAND, attach_fixed
from .envelopes import find_envelope
from .facet_surfaces import describe_facet
from .families import Family, choose_family
from .fit_uncertainty import in_mm
from .fits import Fit
from .frames import JointFrame
from .limb_covering import prepare_curved_contact
from .limb_facets import find_cores, looks_outwards
from .limb_frame import LimbFrame, limb_frame, turn_frame
from .limits import Trial, find_limit, prepare_trial
from .partner import Partner

HELD = AxisLimit(Stop(0.0, "held", None), Stop(0.0, "held", None))
"""About an axis that the joint's family does not turn about."""

_LATERAL_RAD = float(np.radians(85))
"""At 90° of lateral turn flexion and axial turn are one: so far no limit goes."""
_TOGETHER_RAD = TOGETHER_RAD - float(np.radians(1))
"""So far the three angles go together at the most: no attitude has two sets of them."""
_CLEARLY_OUT = 0.5
"""In doubt the parent's facet stands out: limbs bear their rollers on the far ends of their bones."""


def find_limb_joint(
    parent: Partner,
    child: Partner,
    side: Side,
    settings: LimitSettings,
    placed: JointFrame | None = None,
    progress: Progress = ignore_progress,
) -> Joint:
    """The joint between two neighbouring bones of a limb; fixed, with the reason, where its surfaces do not tell it.

    Parameters
    ----------
    side : of the child
    settings : of the limits; their search range is that of limbs
    placed : the frame that the user has given it; None: the one that its surfaces tell
    """
    on_parent, on_child = find_cores(parent, child), find_cores(child, parent)
    if on_parent is None or on_child is None:
        reason = f"its bones do not face each other{ASKS_FOR_HAND}"
        return attach_fixed(parent.name, child.name, parent.samples.points, child.samples.points, reason)
    child_stands_out = looks_outwards(on_child) > looks_outwards(on_parent) + _CLEARLY_OUT
    standing_out, partner = (on_child, on_parent) if child_stands_out else (on_parent, on_child)
    family = choose_family(standing_out, partner)
    return make_limb_joint(parent, child, family, side, settings, placed=placed, progress=progress)


def make_limb_joint(
    parent: Partner,
    child: Partner,
    family: Family,
    side: Side,
    settings: LimitSettings,
    told: str = "",
    placed: JointFrame | None = None,
    progress: Progress = ignore_progress,
) -> Joint:
    """The joint of a family that was found; fixed where there are objections.

    told : how its facets were come by, before the reason; nothing where they were found
    placed : the frame that the user has given it, which settles all objections; None: the one that its surfaces tell
    """
    facets = list_facets(family, "marked by hand" if told else "")
    fixed = attach_fixed(parent.name, child.name, parent.samples.points, child.samples.points, "")
    fixed = replace(fixed, facets=facets, fit=record_fit(family), frame_uncertainty=find_family_uncertainty(family))
    if family.fit is None or (family.objections and placed is None):
        reason = f"{told}{_name_family(family)}{'; '.join(family.objections)}{ASKS_FOR_HAND}"
        return replace(fixed, confidence="ambiguous", reason=reason)
    frame = limb_frame(family.fit, parent, child, side)
    if placed is not None:
        frame = replace(frame, X_WJ=placed.X_WJ, senses=placed.senses, bent=True)  # bent: it is not turned about
    contact = prepare_curved_contact(family, family.partner.bone is child)
    if contact is None:
        reason = f"{told}{_name_family(family)}its facets do not lie over each other{ASKS_FOR_HAND}"
        return replace(fixed, confidence="ambiguous", reason=reason)
    trial = prepare_trial(parent, child, (contact,), frame.X_WJ, frame.senses, settings)
    limits = _find_limits(trial, frame.axes, settings.search_rad)
    frame, limits = _turn_to_wider(frame, limits)
    envelope = find_envelope(replace(trial, X_WJ=frame.X_WJ, senses=frame.senses), limits, progress)
    return Joint(
        parent.name, child.name, "limb", frame.X_WJ, frame.senses, (limits[0], limits[1], limits[2]), facets, "found",
        told + _describe(family, family.fit), settings, record_fit(family), envelope=envelope,
        frame_uncertainty=find_family_uncertainty(family) if placed is None else None,
    )  # fmt: skip


def _find_limits(trial: Trial, axes: tuple[int, ...], search_rad: float) -> list[AxisLimit]:
    """Limits about the axes (0, 1, 2) that the family turns about, no farther than the angles stay unique."""
    limits = [HELD, HELD, HELD]
    left = _TOGETHER_RAD
    for axis, reach in enumerate((search_rad, min(search_rad, _LATERAL_RAD), search_rad)):
        if axis in axes:
            limits[axis] = find_limit(trial, axis, min(reach, left))
        left -= max(-limits[axis].low.angle_rad, limits[axis].high.angle_rad)
    return limits


def _turn_to_wider(frame: LimbFrame, limits: list[AxisLimit]) -> tuple[LimbFrame, list[AxisLimit]]:
    """Of a hinge that lies straight, flexion is the way it turns farther."""
    if frame.bent or -limits[0].low.angle_rad <= limits[0].high.angle_rad:
        return frame, limits
    return turn_frame(frame), [_reverse(limits[0]), limits[1], limits[2]]


def _reverse(limit: AxisLimit) -> AxisLimit:
    low, high = limit.low, limit.high
    return AxisLimit(replace(high, angle_rad=-high.angle_rad), replace(low, angle_rad=-low.angle_rad))


def list_facets(family: Family, how: str = "") -> tuple[Facet, ...]:
    """Facets of both bones, piece by piece.

    how : they were come by; empty: where the bones face each other
    """
    confidence: Confidence = "ambiguous" if family.objections else "found"
    objection = f"; in doubt: {'; '.join(family.objections)}" if family.objections else ""
    ways = (
        (family.on, family.pieces, how or "faces its partner most closely, grown over the surface that was fitted"),
        (family.partner, family.partner.pieces, how or "faces its partner most closely"),
    )
    return tuple(
        describe_facet(
            "articular surface", facing.bone.name, facing.bone.samples, piece, facing.gap_m, way + objection, confidence
        )
        for facing, pieces, way in ways
        for piece in pieces
    )


def name_fit(fit: Fit, pieces: int) -> JointFamily:
    """The family in the field's terms."""
    if fit.shape == "revolution":
        return "paired condyles" if pieces > 1 else "hinge"
    return "ball" if fit.shape == "ball" else "saddle"


def record_fit(family: Family) -> JointFit | None:
    """What is kept of a family's fit; None where nothing fits."""
    fit = family.fit
    if fit is None:
        return None
    return JointFit(
        name_fit(fit, len(family.pieces)),
        family.on.bone.name,
        tuple(float(radius) for radius in fit.radii),
        tuple(float(arc) for arc in fit.arcs),
        fit.residual,
        family.partner_opening,
    )


def find_family_uncertainty(family: Family) -> FrameUncertainty | None:
    """How far centre and axes of a family may be believed; None where nothing fits."""
    if family.fit is None:
        return None
    centre_m, axes_rad = (d if np.isfinite(d) else None for d in (family.centre_uncertainty, family.axis_uncertainty))
    return FrameUncertainty(centre_m, axes_rad, f"the facet of {family.on.bone.name}, fitted with each sixth left out")


def _name_family(family: Family) -> str:
    if family.fit is None:
        return ""
    words = {"ball": "a ball", "hinge": "a hinge", "paired condyles": "paired condyles", "saddle": "a saddle"}
    name = words[name_fit(family.fit, len(family.pieces))]
    return f"{name} on {family.on.bone.name} {'fit' if name == 'paired condyles' else 'fits'} best, but "


def _describe(family: Family, fit: Fit) -> str:
    """E.g. "hinge, fitted to Humerus: radius 10.2 mm, reaching round by 126°, off by 0.2 mm; standard error …"."""
    name = name_fit(fit, len(family.pieces))
    radii = " and ".join(in_mm(radius, 3) for radius in fit.radii)
    arcs = " and ".join(f"{np.degrees(arc):.0f}°" for arc in fit.arcs)
    known = f"standard error of the centre {in_mm(family.centre_uncertainty)} mm"
    if len(fit.axes):
        known += f", of the axis {np.degrees(family.axis_uncertainty):.1f}°"
    return (
        f"{name}, fitted to {family.on.bone.name}: radius {radii} mm, reaching round by {arcs}, "
        f"off by {in_mm(fit.residual)} mm; {known}"
    )
