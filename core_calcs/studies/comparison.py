"""Poses side by side: the same measures of each, and which pose is best and which worst in each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..skeleton.tree import Skeleton
from .assessment import SEVERITY, Assessment, State
from .chains import find_greatest_moments
from .checks import count_outside

Better = Literal["more", "less"]

SAME_SHARE = 1e-6
"""Values within this share of the greatest are the same: neither is better."""

MEASURES: tuple[tuple[str, str, Better], ...] = (
    ("Mass", "kg", "less"),
    ("Margin", "m", "more"),
    ("Tip angle", "rad", "more"),
    ("Base moment", "N·m", "less"),
    ("Worst foot", "N", "less"),
    ("Neck moment", "N·m", "less"),
    ("Tail moment", "N·m", "less"),
    ("Outside range", "", "less"),
)
"""Name, SI unit, which way is better; in the order in which they are shown."""


@dataclass(frozen=True)
class Measured:
    """What is compared of one pose.

    values : in the order of `MEASURES`; None: not known
    places : where each is, empty where it has no place
    state : of its worst check
    """

    pose: str
    values: tuple[float | None, ...]
    places: tuple[str, ...]
    state: State


@dataclass(frozen=True)
class ComparedRow:
    """One measure of several poses.

    best, worst : indices of the poses; none where all are the same, or fewer than two are known
    """

    name: str
    unit: str
    values: tuple[float | None, ...]
    places: tuple[str, ...]
    best: tuple[int, ...]
    worst: tuple[int, ...]


def measure_pose(skeleton: Skeleton, found: Assessment) -> Measured:
    """What is compared of a pose: greatest foot force by equal springs, greatest moments of neck and tail.

    The base moment is that about the horizontal axes. Joints outside their range are counted where limits are known;
    not known as long as the limits of a joint that turns are not.
    """
    loaded = [(foot.force_N, foot.foot) for foot in found.feet if foot.force_N is not None]
    foot = max(loaded, key=lambda own: own[0], default=(None, ""))
    greatest = {own.chain: own for own in find_greatest_moments(skeleton, found.joints)}
    chains = [greatest.get(chain) for chain in ("neck", "tail")]
    pulls = [(None, "") if own is None or own.unknown else (own.moment_Nm, own.child) for own in chains]
    unknown = any(use.inside_rad is None for use in found.uses)
    outside = None if unknown else float(count_outside(found.uses))
    cells: list[tuple[float | None, str]] = [
        (found.mass_kg, ""),
        (found.distance_margin_m, ""),
        (found.tip_angle_rad, ""),
        (float(np.hypot(*found.base_moment_Nm[:2])), ""),
        foot,
        *pulls,
        (outside, ""),
    ]
    states = [check.state for check in found.checks]
    state: State = max(states, key=SEVERITY.index, default="not known")
    return Measured(found.pose, tuple(value for value, _ in cells), tuple(place for _, place in cells), state)


def compare_poses(measured: Sequence[Measured]) -> tuple[ComparedRow, ...]:
    """One row for every measure, the poses in the order given."""
    rows = []
    for i, (name, unit, better) in enumerate(MEASURES):
        values = tuple(own.values[i] for own in measured)
        best, worst = rank_values(values, better)
        rows.append(ComparedRow(name, unit, values, tuple(own.places[i] for own in measured), best, worst))
    return tuple(rows)


def rank_values(values: Sequence[float | None], better: Better) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Indices of the best and of the worst of the values known; none where these do not differ."""
    known = [value for value in values if value is not None]
    if len(known) < 2:
        return (), ()
    least, most = min(known), max(known)
    same = SAME_SHARE * max(abs(least), abs(most))
    if most - least <= same:
        return (), ()
    low, high = (
        tuple(i for i, value in enumerate(values) if value is not None and abs(value - end) <= same)
        for end in (least, most)
    )
    return (high, low) if better == "more" else (low, high)
