"""Surfaces that could be a facet's: ball, surface of revolution, saddle; and which of them are likely, plainest first.

They are weighed against each other by Schwarz's criterion; see `fits`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..spatial.transforms import Array
from .balls import fit_ball
from .fits import Fit
from .limb_facets import Facing
from .revolutions import fit_revolution, fit_revolutions
from .saddles import fit_saddle
from .slippage import Turning, find_bends, measure_slippage

CLEARLY = 6.0
"""By so much less (Schwarz's criterion) a richer family must cost to beat a plainer one: very strong evidence is 10."""
EVEN = 0.02
"""Of a facet's reach: no bone is truer to a ball or an axis than so."""
SADDLE_ARC_RAD = float(np.radians(45))
_LIKELY = 15.0
_ALIKE_ARCS = 2.0
_TELLING_ARC_RAD = float(np.radians(30))
"""What reaches less far round is as good as flat, and gives way to what does not."""


def fit_candidates(facing: Facing) -> list[Fit]:
    """Every surface that fits a facet at all, from the plainest to the richest."""
    samples = facing.bone.samples
    pieces = [(samples.points[piece], samples.normals[piece]) for piece in facing.pieces]
    points, normals = samples.points[facing.index], samples.normals[facing.index]
    bends = find_bends(points, normals)
    starts = [*measure_slippage(points, normals).turnings[:2], *(bends or ())]
    ball = fit_ball(points, normals)
    saddle = fit_saddle(points, normals, bends) if bends and len(pieces) == 1 else None
    return [fit for fit in (ball, saddle, *fit_revolutions(pieces, starts)) if fit is not None]


def find_reach(facing: Facing) -> float:
    """Root mean square distance of a facet's samples from their middle [m]."""
    points = facing.bone.samples.points[facing.index]
    return float(np.sqrt(((points - points.mean(axis=0)) ** 2).sum(axis=1).mean()))


def rank_candidates(fits: Sequence[Fit], reach: float) -> list[Fit]:
    """The plainest fit that no other clearly beats, and the hinge that reaches round most of those that are likely.

    A saddle counts only where it reaches far enough round both its axes: else it is a roller with a groove.
    """
    fits = [fit for fit in fits if fit.shape != "saddle" or is_saddle(fit)]
    fits = [fit for fit in fits if fit.arcs[0] >= _TELLING_ARC_RAD] or list(fits)
    costs = [fit.find_cost(EVEN * reach) for fit in fits]
    least = min(costs, default=0.0)
    known = list(zip(fits, costs, strict=True))
    plain = [fit for fit, cost in known if fit.shape != "revolution" and cost <= least + CLEARLY]
    hinges = [fit for fit, cost in known if fit.shape == "revolution" and cost <= least + _LIKELY]
    hinges.sort(key=lambda fit: -float(fit.arcs[0]))
    return [*plain[:1], *hinges[:1]]


def is_saddle(fit: Fit) -> bool:
    """Whether it reaches far enough round both its axes."""
    return bool(fit.arcs.min() >= SADDLE_ARC_RAD and fit.arcs.max() <= _ALIKE_ARCS * fit.arcs.min())


def refit(
    shape: str,
    pieces: list[tuple[Array, Array]],
    before: Fit,
    any_degree: bool = False,
    partner: Array | None = None,
) -> Fit | None:
    """A surface like one before, fitted to pieces (points, normals).

    any_degree : of the profile, else as it was
    partner : (n, 3) of the partner's facet, which has a say in a saddle's axes
    """
    points, normals = (np.concatenate([piece[k] for piece in pieces]) for k in (0, 1))
    turnings = [Turning(axis, place) for axis, place in zip(before.axes, before.places, strict=True)]
    if shape == "ball":
        return fit_ball(points, normals)
    if shape == "saddle":
        return fit_saddle(points, normals, (turnings[0], turnings[1]), partner)
    return fit_revolution(pieces, turnings, None if any_degree else before.degree)
