"""Which family a joint of a limb is of, from the surfaces by which its bones face each other; or that it is ambiguous.

A ball, a surface of revolution (a hinge, or a pair of condyles) and a saddle are fitted to the facet that stands out
(the ball, not the socket: sockets are small and their radius unstable). The family is the plainest that is not clearly
beaten. It then grows over what lies on it, and counts as found only where three things agree: it lies close, the points
pin it down whichever sector of them is left out, and the partner's facet slides about it too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..skeleton.joint import JointFamily
from ..spatial.transforms import Array
from .balls import fit_ball
from .fits import LEAST_POINTS, Fit, root_mean_square, split_cylindrical
from .limb_facets import ALIKE, Facing, grow_on_fit
from .patches import Index
from .revolutions import fit_revolution, fit_revolutions
from .saddles import fit_saddle
from .slippage import Turning, find_bends, measure_slippage

CLEARLY = 6.0
"""By so much less (Schwarz's criterion) a richer family must cost to beat a plainer one: very strong evidence is 10."""
EVEN = 0.02
"""Of a facet's reach: no bone is truer to a ball or an axis than so."""
RESIDUAL = 0.06
"""Of the radius: a facet whose points lie farther off is no such surface."""
CENTRE_DOUBT = 0.06
"""Of the radius: a centre less certain is not known."""
AXIS_DOUBT_RAD = float(np.radians(8))
LEAST_ARC_RAD = float(np.radians(60))
PARTNER = 0.45
"""Of the radius: by so much more than about its own best axis the partner's facet may open per radian of turn."""
SADDLE_ARC_RAD = float(np.radians(45))
_ROUNDS, _STEP, _TOLERANCE = 3, 0.35, 2.5
_LEAST_TOLERANCE, _MOST_RESIDUAL = 0.02, 0.05
_LIKELY = 15.0
_ALIKE_ARCS = 2.0
_RIM_TOLERANCES = (0.12, 0.08, 0.05)
_LONG, _ALONG_BONE = 2.0, float(np.cos(np.radians(40)))
_TELLING_ARC_RAD = float(np.radians(30))
"""What reaches less far round is as good as flat, and gives way to what does not."""
_HOPELESS_ARC_RAD = float(np.radians(20))
"""A facet that faces its partner over less is not worth growing."""
_SECTORS = 6

Pieces = tuple[Index, ...]


@dataclass(frozen=True, eq=False)
class Family:
    """What was found.

    fit : of the facet that stands out, grown; None where nothing fits at all
    on : that facet's bone; pieces : its grown samples; partner : the other bone's facet
    centre_doubt, axis_doubt : how far centre [m] and axes [rad] move when a sector of the facet is left out
    partner_opening : of the partner's facet per radian about the joint beyond its own least, as a share of the radius
    doubts : why it is ambiguous, in words; empty where it is found
    """

    fit: Fit | None
    on: Facing
    pieces: Pieces
    partner: Facing
    centre_doubt: float
    axis_doubt: float
    partner_opening: float
    doubts: tuple[str, ...]


def choose_family(standing_out: Facing, partner: Facing) -> Family:
    """The family of the joint between two facets that face each other.

    Where the plainest that fits leaves doubts, the hinge that reaches round most is tried as well.
    """
    first: Family | None = None
    for fit in _rank(_fit_all(standing_out), _reach(standing_out)):
        family = _examine(fit, standing_out, partner)
        if not family.doubts:
            return family
        first = first or family
    nothing = ("no ball, hinge or saddle fits its facet",)
    return first or Family(None, standing_out, standing_out.pieces, partner, np.inf, np.inf, np.inf, nothing)


def fit_marked(standing_out: Facing, partner: Facing, family: JointFamily | None) -> Family:
    """The family of a facet that was marked by hand: it is taken as it is and not grown.

    family : where the user says it; None: the plainest that fits
    """
    shapes: dict[JointFamily | None, str] = {"ball": "ball", "saddle": "saddle"}
    fits = _fit_all(standing_out)
    if family is None:
        fits = _rank(fits, _reach(standing_out))
    else:
        fits = [fit for fit in fits if fit.shape == shapes.get(family, "revolution")]
        fits = fits[:1] if family in shapes else _rank(fits, _reach(standing_out))
    if not fits:
        nothing = (f"no {family or 'ball, hinge or saddle'} fits the facet",)
        return Family(None, standing_out, standing_out.pieces, partner, np.inf, np.inf, np.inf, nothing)
    fit, pieces = _settle(standing_out, fits[0])
    return _judge(fit, standing_out, pieces, partner, marked=True)


def _examine(chosen: Fit, standing_out: Facing, partner: Facing) -> Family:
    """Grow a fit over its facet, and name what speaks against it."""
    if chosen.arcs[0] < _HOPELESS_ARC_RAD:
        few = (f"it reaches round by {np.degrees(chosen.arcs[0]):.0f}° alone",)
        opening = _open_partner(partner, chosen)
        return Family(chosen, standing_out, standing_out.pieces, partner, np.inf, np.inf, opening, few)
    fit, pieces = _grow(standing_out, chosen)
    return _judge(fit, standing_out, pieces, partner, marked=False)


def _judge(fit: Fit, standing_out: Facing, pieces: Pieces, partner: Facing, marked: bool) -> Family:
    """Name what speaks against a fit; where the user marked the facet, only what the fit itself says."""
    centre_doubt, axis_doubt = _leave_sectors_out(standing_out, pieces, fit)
    opening = _open_partner(partner, fit)
    doubts = _name_doubts(fit, centre_doubt, axis_doubt, 0.0 if marked else opening)
    if not marked:
        doubts = (*doubts, *_doubt_axis(fit, standing_out))
    return Family(fit, standing_out, pieces, partner, centre_doubt, axis_doubt, opening, doubts)


def _fit_all(facing: Facing) -> list[Fit]:
    """From the plainest to the richest."""
    samples = facing.bone.samples
    pieces = [(samples.points[piece], samples.normals[piece]) for piece in facing.pieces]
    points, normals = samples.points[facing.index], samples.normals[facing.index]
    bends = find_bends(points, normals)
    starts = [*measure_slippage(points, normals).turnings[:2], *(bends or ())]
    ball = fit_ball(points, normals)
    saddle = fit_saddle(points, normals, bends) if bends and len(pieces) == 1 else None
    return [fit for fit in (ball, saddle, *fit_revolutions(pieces, starts)) if fit is not None]


def _reach(facing: Facing) -> float:
    points = facing.bone.samples.points[facing.index]
    return float(np.sqrt(((points - points.mean(axis=0)) ** 2).sum(axis=1).mean()))


def _rank(fits: Sequence[Fit], reach: float) -> list[Fit]:
    """The plainest fit that no other clearly beats, and the hinge that reaches round most of those that are likely.

    A saddle counts only where it reaches far enough round both its axes: else it is a roller with a groove.
    """
    fits = [fit for fit in fits if fit.shape != "saddle" or _is_saddle(fit)]
    fits = [fit for fit in fits if fit.arcs[0] >= _TELLING_ARC_RAD] or list(fits)
    costs = [fit.find_cost(EVEN * reach) for fit in fits]
    least = min(costs, default=0.0)
    known = list(zip(fits, costs, strict=True))
    plain = [fit for fit, cost in known if fit.shape != "revolution" and cost <= least + CLEARLY]
    hinges = [fit for fit, cost in known if fit.shape == "revolution" and cost <= least + _LIKELY]
    hinges.sort(key=lambda fit: -float(fit.arcs[0]))
    return [*plain[:1], *hinges[:1]]


def _is_saddle(fit: Fit) -> bool:
    return bool(fit.arcs.min() >= SADDLE_ARC_RAD and fit.arcs.max() <= _ALIKE_ARCS * fit.arcs.min())


def _refit(shape: str, pieces: list[tuple[Array, Array]], before: Fit, any_degree: bool = False) -> Fit | None:
    points, normals = (np.concatenate([piece[k] for piece in pieces]) for k in (0, 1))
    turnings = [Turning(axis, place) for axis, place in zip(before.axes, before.places, strict=True)]
    if shape == "ball":
        return fit_ball(points, normals)
    if shape == "saddle":
        return fit_saddle(points, normals, (turnings[0], turnings[1]))
    return fit_revolution(pieces, turnings, None if any_degree else before.degree)


def _grow(facing: Facing, fit: Fit) -> tuple[Fit, Pieces]:
    """Fit and facet grown together: what lies on the surface joins, and the surface is fitted again.

    A saddle that turns out to reach round one of its axes alone is a roller about that axis.
    """
    samples, pieces = facing.bone.samples, facing.pieces
    off = max(fit.residual, _LEAST_TOLERANCE * fit.radius)
    for _ in range(_ROUNDS):
        wider = grow_on_fit(facing.bone, pieces, fit, _TOLERANCE * off, _STEP * fit.radius)
        again = _refit(fit.shape, [(samples.points[piece], samples.normals[piece]) for piece in wider], fit)
        if again is None or again.residual > max(1.5 * off, _MOST_RESIDUAL * fit.radius):
            break
        fit, pieces = again, wider
    if fit.shape == "saddle" and not _is_saddle(fit):
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
        again = _refit(fit.shape, left, fit, any_degree=True)
        if again is None:
            break
        fit, pieces = again, tuple(kept)
    return fit, pieces


def _leave_sectors_out(facing: Facing, pieces: Pieces, fit: Fit) -> tuple[float, float]:
    """How far centre [m] and axes [rad] move where a sector of the facet is left out; at least the fit's own doubts."""
    samples = facing.bone.samples
    sectors = [_number_sectors(samples.points[piece], samples.normals[piece]) for piece in pieces]
    moved, turned = [], []
    for sector in range(_SECTORS):
        left = [piece[number != sector] for piece, number in zip(pieces, sectors, strict=True)]
        again = _refit(fit.shape, [(samples.points[piece], samples.normals[piece]) for piece in left], fit)
        if again is None:
            return np.inf, np.inf
        moved.append(_off_centre(fit, again))
        turned.append(_off_axes(fit, again))
    return max(fit.centre_doubt, root_mean_square(np.array(moved))), max(
        fit.axis_doubt, root_mean_square(np.array(turned))
    )


def _number_sectors(points: Array, normals: Array) -> NDArray[np.int64]:
    """Which of the sectors round its middle each point of a piece lies in."""
    normal = normals.mean(axis=0)
    q = points - points.mean(axis=0)
    # From the longest direction on, so that a mirror image is cut up as its original is.
    longest = np.linalg.eigh(q.T @ q)[1][:, -1]
    plane = np.linalg.qr(np.column_stack([normal, longest]), mode="complete")[0][:, 1:]
    flat = q @ plane
    share = np.mod(np.arctan2(flat[:, 1], flat[:, 0]) / (2 * np.pi), 1)
    sectors: NDArray[np.int64] = np.minimum((share * _SECTORS).astype(np.int64), _SECTORS - 1)
    return sectors


def _off_centre(fit: Fit, other: Fit) -> float:
    """Between two fits of one family: distance of centres, or of the other's axes from this one's [m]."""
    if fit.shape == "ball":
        return float(np.linalg.norm(other.centre - fit.centre))
    apart = [
        split_cylindrical(place[None, :], axis, there)[1][0]
        for place, axis, there in zip(fit.places, other.axes, other.places, strict=True)
    ]
    return float(max(apart))


def _off_axes(fit: Fit, other: Fit) -> float:
    if fit.shape == "ball":
        return 0.0
    cosines = np.abs(np.einsum("ij,ij->i", fit.axes, other.axes))
    return float(np.arccos(np.clip(cosines, 0, 1)).max())


def _open_partner(partner: Facing, fit: Fit) -> float:
    """How far the partner's facet opens from its own place when it turns about the joint's axes, a share of the radius.

    Per radian, root mean square over the facet, beyond what it opens about axes of its own choice: a rough facet opens
    about any. Of a ball's or a saddle's axes the worst.
    """
    samples = partner.bone.samples
    points, normals = samples.points[partner.index], samples.normals[partner.index]
    axes = fit.axes if len(fit.axes) else np.eye(3)
    places = fit.places if len(fit.axes) else np.tile(fit.centre, (3, 1))
    opened = np.stack(
        [
            np.einsum("ij,ij->i", np.cross(axis, points - place), normals)
            for axis, place in zip(axes, places, strict=True)
        ]
    )
    worst = float(np.linalg.eigvalsh(opened @ opened.T / len(points))[-1])
    own = measure_slippage(points, normals)
    least = float(own.openings[len(axes) - 1] * own.reach) ** 2
    return float(np.sqrt(max(worst - least, 0.0))) / fit.radius


def _doubt_axis(fit: Fit, facing: Facing) -> tuple[str, ...]:
    """Words where a hinge would turn a long bone about its own length: its end is near to round that way as well."""
    points = facing.bone.samples.points
    spread, directions = np.linalg.eigh(np.cov(points.T))
    long = spread[2] > _LONG**2 * spread[1]
    if fit.shape == "revolution" and long and abs(fit.axes[0] @ directions[:, 2]) > _ALONG_BONE:
        return (f"it would turn about the length of {facing.bone.name}",)
    return ()


def _name_doubts(fit: Fit, centre_doubt: float, axis_doubt: float, opening: float) -> tuple[str, ...]:
    doubts = []
    if fit.residual > RESIDUAL * fit.radius:
        doubts.append(f"its points lie {fit.residual / fit.radius:.0%} of the radius off")
    if fit.arcs[0] < LEAST_ARC_RAD:
        doubts.append(f"it reaches round by {np.degrees(fit.arcs[0]):.0f}° alone")
    if not np.isfinite(centre_doubt):
        doubts.append("nothing pins it down")
    elif centre_doubt > CENTRE_DOUBT * fit.radius:
        doubts.append(f"its centre is known to {centre_doubt / fit.radius:.0%} of the radius alone")
    if np.isfinite(axis_doubt) and axis_doubt > AXIS_DOUBT_RAD:
        doubts.append(f"its axis is known to {np.degrees(axis_doubt):.0f}° alone")
    if opening > PARTNER:
        doubts.append(f"the partner's facet does not slide about it (opens by {opening:.2f} of the radius a radian)")
    return tuple(doubts)
