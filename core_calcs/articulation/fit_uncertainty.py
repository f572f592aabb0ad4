"""How far a surface fitted to a limb's facet is to be believed, and what speaks against it, in words.

The standard error of its place is the jackknife's: the facet is cut into sectors, and the surface fitted again without
each. Of g sectors whose leaving out moves it by m_i the squared error is (g - 1) / g Σ m_i² (Efron & Tibshirani, *An
introduction to the bootstrap*, 1993, chapter 11; whole sectors are left out, as neighbouring points are off alike).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array
from .candidate_fits import refit
from .fits import Fit, root_mean_square, split_cylindrical
from .limb_facets import Facing
from .patches import Index
from .slippage import measure_slippage

RESIDUAL = 0.06
"""Of the radius: a facet whose points lie farther off is no such surface."""
CENTRE_UNCERTAINTY = 0.12
"""Of the radius: a centre less certain is not known."""
AXIS_UNCERTAINTY_RAD = float(np.radians(8))
LEAST_ARC_RAD = float(np.radians(60))
PARTNER = 0.45
"""Of the radius: by so much more than about its own best axis the partner's facet may open per radian of turn."""
_LONG, _ALONG_BONE = 2.0, float(np.cos(np.radians(40)))
_CROSSING_SINE = float(np.sin(np.radians(30)))
_SECTORS = 6
_NAMES = {"ball": "a ball", "revolution": "a hinge", "saddle": "a saddle"}


def leave_sectors_out(
    facing: Facing, pieces: tuple[Index, ...], fit: Fit, partner: Facing | None = None
) -> tuple[float, float]:
    """Standard errors of centre [m] and axes [rad], from leaving sectors of the facet out; at least the fit's own.

    Infinite where nothing fits without one of the sectors.

    partner : whose facet has a say in a saddle's axes; the same sectors of it are left out
    """
    samples = facing.bone.samples
    others = np.empty((0, 3)) if partner is None else partner.bone.samples.points[partner.index]
    lie_in = np.empty(0, np.int64)
    if partner is not None:
        lie_in = _number_sectors(others, partner.bone.samples.normals[partner.index])
    sectors = [_number_sectors(samples.points[piece], samples.normals[piece]) for piece in pieces]
    moved, turned = [], []
    for sector in range(_SECTORS):
        left = [piece[number != sector] for piece, number in zip(pieces, sectors, strict=True)]
        beside = None if partner is None else others[lie_in != sector]
        again = refit(
            fit.shape, [(samples.points[piece], samples.normals[piece]) for piece in left], fit, partner=beside
        )
        if again is None:
            return np.inf, np.inf
        moved.append(_off_centre(fit, again))
        turned.append(_off_axes(fit, again))
    spread = float(np.sqrt(_SECTORS - 1))
    return (
        max(fit.centre_uncertainty, spread * root_mean_square(np.array(moved))),
        max(fit.axis_uncertainty, spread * root_mean_square(np.array(turned))),
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
    return max(float(_find_distances(other, place)[k]) for k, place in enumerate(fit.places))


def _off_axes(fit: Fit, other: Fit) -> float:
    if fit.shape == "ball":
        return 0.0
    # A saddle's second axis crosses its first where the middle of the facets lies, and turns with the first.
    cosine = abs(float(fit.axes[0] @ other.axes[0]))
    return float(np.arccos(min(cosine, 1.0)))


def open_partner(partner: Facing, fit: Fit) -> float:
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


def check_surface(fit: Fit, opening: float, long_bone: Facing | None) -> tuple[str, ...]:
    """What speaks against a surface being the joint's at all, in words.

    long_bone : the facet it was fitted to, where a turn about the length of that bone is an objection
    """
    objections = []
    if fit.residual > RESIDUAL * fit.radius:
        objections.append(f"its points lie {fit.residual / fit.radius:.0%} of the radius off")
    if fit.arcs[0] < LEAST_ARC_RAD:
        objections.append(f"it reaches round by {np.degrees(fit.arcs[0]):.0f}° alone")
    if opening > PARTNER:
        objections.append(
            f"the partner's facet does not slide about it (opens by {opening:.2f} of the radius a radian)"
        )
    if long_bone is not None and _turns_along(fit, long_bone):
        objections.append(f"it would turn about the length of {long_bone.bone.name}")
    return tuple(objections)


def _turns_along(fit: Fit, facing: Facing) -> bool:
    """Whether a hinge would turn a long bone about its own length: its end is near to round that way as well."""
    spread, directions = np.linalg.eigh(np.cov(facing.bone.samples.points.T))
    long = spread[2] > _LONG**2 * spread[1]
    return bool(fit.shape == "revolution" and long and abs(fit.axes[0] @ directions[:, 2]) > _ALONG_BONE)


def check_place(fit: Fit, centre_uncertainty: float, axis_uncertainty: float) -> tuple[str, ...]:
    """What speaks against knowing where it is, in words; of its centre and axis: standard errors [m], [rad]."""
    objections = []
    if not centre_uncertainty <= fit.radius:
        objections.append("nothing pins it down")
    elif centre_uncertainty > CENTRE_UNCERTAINTY * fit.radius:
        objections.append(f"its centre is known to {centre_uncertainty / fit.radius:.0%} of the radius alone")
    if np.isfinite(axis_uncertainty) and axis_uncertainty > AXIS_UNCERTAINTY_RAD:
        objections.append(f"its axis is known to {np.degrees(axis_uncertainty):.0f}° alone")
    return tuple(objections)


def compare_rival(fit: Fit, rival: Fit, centre_uncertainty: float, axis_uncertainty: float) -> str:
    """In words how another surface turns elsewhere than a fit does; empty where it does not, within what is allowed.

    A ball and a hinge through its centre do not contradict each other, nor a saddle and a hinge about one of its axes.

    centre_uncertainty, axis_uncertainty : the rival's standard errors [m], [rad]
    """
    far = float(np.hypot(CENTRE_UNCERTAINTY * fit.radius, centre_uncertainty))
    askew = float(np.hypot(AXIS_UNCERTAINTY_RAD, axis_uncertainty))
    if fit.shape == "ball" or rival.shape == "ball":
        ball, other = (fit, rival) if fit.shape == "ball" else (rival, fit)
        apart, turned = float(_find_distances(other, ball.centre).max()), 0.0
    else:
        fewer, more = sorted((fit, rival), key=lambda one: len(one.axes))
        angles = np.arccos(np.clip(np.abs(fewer.axes @ more.axes.T), 0, 1))
        turned = float(angles.min(axis=1).max())
        apart = max(
            float(_find_distances(more, place)[nearest])
            for place, nearest in zip(fewer.places, angles.argmin(axis=1), strict=True)
        )
    if turned > askew:
        return f"{_NAMES[rival.shape]} turned from it by {np.degrees(turned):.0f}° fits as well"
    if apart > far:
        return f"{_NAMES[rival.shape]} {in_mm(apart)} mm beside it fits as well"
    return ""


def compare_hinges(ball: Fit, hinges: Sequence[tuple[Fit, float]]) -> str:
    """In words how hinges that fit as well as a ball pass each other by; empty where they cross, as a ball's all do.

    An egg-shaped head is round about either of two axes apart.

    hinges : with the standard error of their place [m]
    """
    for (one, own_uncertainty), (other, other_uncertainty) in combinations(hinges, 2):
        across = np.cross(one.axes[0], other.axes[0])
        sine = float(np.linalg.norm(across))
        if sine < _CROSSING_SINE:
            continue
        apart = abs(float((other.places[0] - one.places[0]) @ across)) / sine
        if apart > np.linalg.norm([CENTRE_UNCERTAINTY * ball.radius, own_uncertainty, other_uncertainty]):
            return f"hinges about two axes that pass each other {in_mm(apart)} mm apart fit as well"
    return ""


def in_mm(length_m: float, figures: int = 2) -> str:
    """A length in millimetres to so many figures, never as a power of ten."""
    return f"{float(f'{length_m * 1e3:.{figures}g}'):g}"


def _find_distances(fit: Fit, point: Array) -> Array:
    """Of a point (3,) from a fit's axes (k,) [m]."""
    return np.array(
        [split_cylindrical(point[None, :], axis, place)[1][0] for axis, place in zip(fit.axes, fit.places, strict=True)]
    )
