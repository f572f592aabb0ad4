"""The coupled envelope of a joint: from neutral out in every direction, until the first thing stops it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ..skeleton.directions import list_directions, list_ring
from ..skeleton.envelope import find_angles, scale_directions
from ..skeleton.joint import AxisLimit, Envelope, LimitSettings
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array
from .facets import Patch
from .limits import Trial, find_three_limits, prepare_coverings, prepare_trial, try_angles
from .partner import Partner

Limits = tuple[AxisLimit, AxisLimit, AxisLimit]

_STEPS, _HALVINGS = 4, 4
"""Coarse levels: the way to where the neighbours end is tried in so many steps, and the last one halved so often."""
_ALIKE = 0.03
"""In the finest level: what ends within this share of where its neighbours do is taken to end there."""
_FARTHER = 0.12
_LEAST_RAD = 1e-3
"""An axis that is stopped at once still has a direction."""


def find_range(
    parent: Partner,
    child: Partner,
    pairs: tuple[tuple[Patch, Patch], ...],
    X_WJ: Array,
    senses: tuple[int, int, int],
    settings: LimitSettings,
    progress: Progress = ignore_progress,
) -> tuple[Limits, Envelope | None]:
    """The limits of a joint of the column about each axis alone, and its coupled envelope; see `find_limits`."""
    facets = prepare_coverings(pairs, min(parent.size, child.size))
    trial = prepare_trial(parent, child, facets, X_WJ, senses, settings)
    limits = find_three_limits(trial, settings.search_rad)
    return limits, find_envelope(trial, limits, progress)


def find_envelope(trial: Trial, limits: Sequence[AxisLimit], progress: Progress = ignore_progress) -> Envelope | None:
    """Which attitudes a joint may take, within the box of its limits; None where it turns about one axis alone.

    An attitude belongs to it where the straight way from neutral, in cosine-corrected joint space, is free. The
    boundary is looked for along 258 directions, coarse first; the finest level looks about where its neighbours end.
    Of a joint that turns about two axes, the third being held, the directions between those two are looked along.
    `progress` is told at every direction, so that it may stop the search within some hundredths of a second.
    """
    held = [axis for axis, limit in enumerate(limits) if limit.low.reason == limit.high.reason == "held"]
    if len(held) > 1:
        return None
    ends = np.array([[limit.low.angle_rad, limit.high.angle_rad] for limit in limits])
    scale = np.maximum(np.abs(ends), _LEAST_RAD) * (-1, 1)
    scale[held] = 0.0
    sphere, rays = list_directions(), scale_directions(scale)
    borders = _leave_box(rays, scale)
    shares = np.ones(len(rays))
    asked = list_ring(held[0]) if held else np.arange(len(rays))
    for i in np.sort(asked[sphere.levels[asked] > 0]).tolist():
        progress(f"range of {trial.child.name}", i / len(rays))

        def is_free(share: float, ray: Array = rays[i]) -> bool:
            return try_angles(trial, find_angles(share * ray)) is None

        expected = min(float(shares[sphere.parents[i]].mean()), float(borders[i]))
        look = _look_about if sphere.levels[i] == sphere.levels.max() else _march_out
        shares[i] = look(is_free, expected, float(borders[i]))
    return Envelope(scale, np.round(shares, 4))


def _march_out(is_free: Callable[[float], bool], expected: float, border: float) -> float:
    """The share of a ray at which it is first stopped, or leaves the box."""
    low, step = 0.0, max(expected, _LEAST_RAD) / _STEPS
    while True:
        high = min(low + step, border)
        if not is_free(high):
            return _halve(is_free, low, high, _HALVINGS)
        low = high
        if high == border:
            return border


def _look_about(is_free: Callable[[float], bool], expected: float, border: float) -> float:
    """The same, looked for about where it is expected, outwards and inwards from there."""
    high = min(expected * (1 + _ALIKE), border)
    low = expected * (1 - _ALIKE)
    if is_free(low):
        while is_free(high):
            if high == border:
                return border
            low, high = high, min(high * (1 + _FARTHER), border)
    else:
        while not is_free(low):
            low, high = low * (1 - _FARTHER) - _ALIKE / 10, low
            if low <= 0:
                return 0.0
    # No nearer than the finest level's neighbours are alike anyway.
    return _halve(is_free, low, high, int(np.ceil(np.log2(max((high - low) / (_ALIKE * high), 1)))))


def _halve(is_free: Callable[[float], bool], low: float, high: float, times: int) -> float:
    for _ in range(times):
        middle = (low + high) / 2
        low, high = (middle, high) if is_free(middle) else (low, middle)
    return (low + high) / 2


def _leave_box(rays: Array, scale: Array) -> Array:
    """The shares (n,) at which rays (n, 3) leave the box of the six limits: halving, for angles grow along them."""
    ends = np.where(rays < 0, -scale[:, 0], scale[:, 1])
    low, high = np.zeros(len(rays)), np.full(len(rays), np.sqrt(3) + 1e-9)
    for _ in range(24):
        middle = (low + high) / 2
        inside = (np.abs(find_angles(middle[:, None] * rays)) <= ends + 1e-12).all(axis=1)
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    return low
