"""Which family a joint of a limb is of, from the surfaces by which its bones face each other; or that it is ambiguous.

A ball, a surface of revolution (a hinge, or a pair of condyles) and a saddle are fitted to the facet that stands out
(the ball, not the socket: sockets are small and their radius unstable). The family is the plainest that is not clearly
beaten. It then grows over what lies on it, and counts as found only where four things agree: it lies close, the points
pin it down whichever sector of them is left out, the partner's facet slides about it too, and no other surface that is
as likely turns about another place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..skeleton.joint import JointFamily
from .candidate_fits import CLEARLY, EVEN, find_reach, fit_candidates, is_saddle, rank_candidates, refit
from .deformations import check_roundness
from .fit_uncertainty import check_place, check_surface, compare_hinges, compare_rival, leave_sectors_out, open_partner
from .fits import LEAST_POINTS, Fit
from .limb_facets import ALIKE, Facing, grow_on_fit
from .patches import Index
from .revolutions import fit_revolution
from .slippage import Turning

_ROUNDS, _STEP, _TOLERANCE = 3, 0.35, 2.5
_LEAST_TOLERANCE, _MOST_RESIDUAL = 0.02, 0.05
_WORSE = 1.5
"""So much farther off a saddle's own points may lie that both facets' axes are taken."""
_RIM_TOLERANCES = (0.12, 0.08, 0.05)
_HOPELESS_ARC_RAD = float(np.radians(20))
"""A facet that faces its partner over less is not worth growing."""
_AS_FAR = 0.8
"""A hinge that reaches less far round than this share of another's arc is no rival."""

Pieces = tuple[Index, ...]


@dataclass(frozen=True, eq=False)
class Family:
    """What was found.

    fit : of the facet that stands out, grown; None where nothing fits at all
    on : that facet's bone; pieces : its grown samples; partner : the other bone's facet
    centre_uncertainty, axis_uncertainty : standard errors of centre [m] and axes [rad]
    partner_opening : of the partner's facet per radian about the joint beyond its own least, as a share of the radius
    objections : why it is ambiguous, in words; empty where it is found
    """

    fit: Fit | None
    on: Facing
    pieces: Pieces
    partner: Facing
    centre_uncertainty: float
    axis_uncertainty: float
    partner_opening: float
    objections: tuple[str, ...]


def choose_family(standing_out: Facing, partner: Facing) -> Family:
    """The family of the joint between two facets that face each other.

    Where something speaks against the plainest that fits, the hinge that reaches round most is tried as well.
    """
    first: Family | None = None
    candidates = fit_candidates(standing_out)
    for fit in rank_candidates(candidates, find_reach(standing_out)):
        family = _examine(fit, standing_out, partner)
        if not family.objections:
            family = _confront(family, fit, candidates)
            return family if family.objections else _look_for_deformation(family)
        first = first or family
    nothing = ("no ball, hinge or saddle fits its facet",)
    return first or Family(None, standing_out, standing_out.pieces, partner, np.inf, np.inf, np.inf, nothing)


def _confront(family: Family, chosen: Fit, candidates: Sequence[Fit]) -> Family:
    """A family beside other surfaces that are as likely on the same points: what turns elsewhere speaks against it."""
    fit = family.fit
    if fit is None:
        return family
    even = EVEN * find_reach(family.on)
    dearest = chosen.find_cost(even) + CLEARLY
    likely = [one for one in candidates if one is not chosen and one.find_cost(even) <= dearest]
    rivals = [rival for rival in (_examine(one, family.on, family.partner) for one in likely) if _is_rival(rival, fit)]
    told = [
        compare_rival(fit, rival.fit, rival.centre_uncertainty, rival.axis_uncertainty) for rival in rivals if rival.fit
    ]
    if fit.shape == "ball":
        hinges = [
            (rival.fit, rival.centre_uncertainty) for rival in rivals if rival.fit and rival.fit.shape == "revolution"
        ]
        told.append(compare_hinges(fit, hinges))
    return replace(family, objections=tuple(filter(None, told))[:1])


def _look_for_deformation(family: Family) -> Family:
    """A family with the objection that its bone has been deformed, where there is one."""
    if family.fit is None:
        return family
    points = family.on.bone.samples.points
    return replace(family, objections=check_roundness(family.fit, [points[piece] for piece in family.pieces]))


def _is_rival(rival: Family, fit: Fit) -> bool:
    """Whether it could be the joint's surface; of two hinges one that reaches less far round is a roller's groove."""
    if rival.fit is None or check_surface(rival.fit, rival.partner_opening, rival.on):
        return False
    both_hinges = rival.fit.shape == fit.shape == "revolution"
    return not (both_hinges and rival.fit.arcs[0] < _AS_FAR * fit.arcs[0])


def fit_marked(standing_out: Facing, partner: Facing, family: JointFamily | None) -> Family:
    """The family of a facet that was marked by hand: it is taken as it is and not grown.

    family : where the user says it; None: the plainest that fits
    """
    shapes: dict[JointFamily | None, str] = {"ball": "ball", "saddle": "saddle"}
    fits = fit_candidates(standing_out)
    if family is None:
        fits = rank_candidates(fits, find_reach(standing_out))
    else:
        fits = [fit for fit in fits if fit.shape == shapes.get(family, "revolution")]
        fits = fits[:1] if family in shapes else rank_candidates(fits, find_reach(standing_out))
    if not fits:
        nothing = (f"no {family or 'ball, hinge or saddle'} fits the facet",)
        return Family(None, standing_out, standing_out.pieces, partner, np.inf, np.inf, np.inf, nothing)
    fit, pieces = _settle(standing_out, fits[0])
    return _judge(fit, standing_out, pieces, partner, marked=True)


def _examine(chosen: Fit, standing_out: Facing, partner: Facing) -> Family:
    """Grow a fit over its facet, and name what speaks against it."""
    if chosen.arcs[0] < _HOPELESS_ARC_RAD:
        few = (f"it reaches round by {np.degrees(chosen.arcs[0]):.0f}° alone",)
        opening = open_partner(partner, chosen)
        return Family(chosen, standing_out, standing_out.pieces, partner, np.inf, np.inf, opening, few)
    fit, pieces = _grow(standing_out, chosen)
    return _judge(fit, standing_out, pieces, partner, marked=False)


def _judge(fit: Fit, standing_out: Facing, pieces: Pieces, partner: Facing, marked: bool) -> Family:
    """Name what speaks against a fit; where the user marked the facet, only what the fit itself says."""
    beside = None
    if fit.shape == "saddle" and (both := _fit_both(fit, standing_out, pieces, partner)) is not None:
        fit, beside = both, partner
    centre_uncertainty, axis_uncertainty = leave_sectors_out(standing_out, pieces, fit, beside)
    opening = open_partner(partner, fit)
    surface = check_surface(fit, 0.0 if marked else opening, None if marked else standing_out)
    objections = (*surface, *check_place(fit, centre_uncertainty, axis_uncertainty))
    return Family(fit, standing_out, pieces, partner, centre_uncertainty, axis_uncertainty, opening, objections)


def _fit_both(fit: Fit, standing_out: Facing, pieces: Pieces, partner: Facing) -> Fit | None:
    """A saddle fitted to both facets together; None where the partner's is none about the same axes."""
    samples, others = standing_out.bone.samples, partner.bone.samples.points[partner.index]
    both = refit(fit.shape, [(samples.points[piece], samples.normals[piece]) for piece in pieces], fit, partner=others)
    worse = both is None or both.residual > _WORSE * max(fit.residual, _LEAST_TOLERANCE * fit.radius)
    return None if worse else both


def _grow(facing: Facing, fit: Fit) -> tuple[Fit, Pieces]:
    """Fit and facet grown together: what lies on the surface joins, and the surface is fitted again.

    A saddle that turns out to reach round one of its axes alone is a roller about that axis.
    """
    samples, pieces = facing.bone.samples, facing.pieces
    off = max(fit.residual, _LEAST_TOLERANCE * fit.radius)
    for _ in range(_ROUNDS):
        wider = grow_on_fit(facing.bone, pieces, fit, _TOLERANCE * off, _STEP * fit.radius)
        again = refit(fit.shape, [(samples.points[piece], samples.normals[piece]) for piece in wider], fit)
        if again is None or again.residual > max(1.5 * off, _MOST_RESIDUAL * fit.radius):
            break
        fit, pieces = again, wider
    if fit.shape == "saddle" and not is_saddle(fit):
        k = int(fit.arcs.argmax())
        start = Turning(fit.axes[k], fit.places[k])
        roller = fit_revolution([(samples.points[piece], samples.normals[piece]) for piece in pieces], [start])
        fit = roller or fit
    return fit, pieces


def _settle(facing: Facing, fit: Fit) -> tuple[Fit, Pieces]:
    """Fit a marked facet again without what of the mark runs on over the facet's rim: off the surface, or turned away.

    Where more than half of the mark would have to go, nothing does.
    """
    samples, pieces = facing.bone.samples, facing.pieces
    for tolerance in _RIM_TOLERANCES:
        kept = []
        for piece in facing.pieces:
            off, normals = fit.measure(samples.points[piece])
            alike = np.einsum("ij,ij->i", normals, samples.normals[piece]) > ALIKE
            kept.append(piece[(np.abs(off) <= tolerance * fit.radius) & alike])
        if sum(map(len, kept)) < 0.5 * len(facing.index) or min(map(len, kept)) < LEAST_POINTS:
            break
        left = [(samples.points[piece], samples.normals[piece]) for piece in kept]
        again = refit(fit.shape, left, fit, any_degree=True)
        if again is None:
            break
        fit, pieces = again, tuple(kept)
    return fit, pieces
