"""Poses side by side: the same measures of each, and which pose is best and which worst in each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .assessment import SEVERITY, Assessment, State
from .beams import BeamKind
from .chains import ChainMoment, find_greatest_moments
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


_PULLING: dict[BeamKind, str] = {"neck": "no neck", "tail": "no tail"}
"""The chains whose moments are compared, and what is said in place of a figure where the skeleton has none."""


@dataclass(frozen=True)
class Measured:
    """What is compared of one pose.

    values : in the order of `MEASURES`; None: not known, or there is none
    places : where each is, empty where it has no place
    state : of its worst check
    lacks : what the skeleton lacks, so that there is no such measure, e.g. `no neck`; empty where there is one
    """

    pose: str
    values: tuple[float | None, ...]
    places: tuple[str, ...]
    state: State
    lacks: tuple[str, ...]


@dataclass(frozen=True)
class ComparedRow:
    """One measure of several poses.

    best, worst : indices of the poses; none where all are the same, or fewer than two are known
    lacks : what the skeleton lacks, so that there is no such measure of any pose; empty where there is one
    """

    name: str
    unit: str
    values: tuple[float | None, ...]
    places: tuple[str, ...]
    best: tuple[int, ...]
    worst: tuple[int, ...]
    lacks: str = ""


def measure_pose(chains: Mapping[str, BeamKind], found: Assessment) -> Measured:
    """What is compared of a pose: greatest foot force by equal springs, greatest moments of neck and tail.

    The base moment is that about the horizontal axes. Joints outside their range are counted where limits are known,
    its place says of how many they are not. chains : of the skeleton's joints, from `name_chains`
    """
    loaded = [(foot.force_N, foot.foot) for foot in found.feet if foot.force_N is not None]
    foot = max(loaded, key=lambda own: own[0], default=(None, ""))
    greatest = {own.chain: own for own in find_greatest_moments(chains, found.joints)}
    pulls = [(*_read_pull(greatest.get(kind)), "" if kind in greatest else none) for kind, none in _PULLING.items()]
    unknown = sum(use.inside_rad is None for use in found.uses)
    outside = float(count_outside(found.uses)) if unknown < len(found.uses) or not unknown else None
    cells: list[tuple[float | None, str, str]] = [
        (found.mass_kg, "", ""),
        (found.distance_margin_m, "", ""),
        (found.tip_angle_rad, "", ""),
        (float(np.hypot(*found.base_moment_Nm[:2])), "", ""),
        (*foot, ""),
        *pulls,
        (outside, f"{unknown} not known" if unknown else "", ""),
    ]
    states = [check.state for check in found.checks]
    state: State = max(states, key=SEVERITY.index, default="not known")
    values, places, lacks = zip(*cells, strict=True)
    return Measured(found.pose, values, places, state, lacks)


def _read_pull(greatest: ChainMoment | None) -> tuple[float | None, str]:
    """Not known as long as one of the chain's loads is not."""
    known = greatest is not None and not greatest.unknown
    return (greatest.moment_Nm, greatest.child) if greatest is not None and known else (None, "")


def compare_poses(measured: Sequence[Measured]) -> tuple[ComparedRow, ...]:
    """One row for every measure, the poses in the order given."""
    rows = []
    for i, (name, unit, better) in enumerate(MEASURES):
        values = tuple(own.values[i] for own in measured)
        best, worst = rank_values(values, better)
        lacks = measured[0].lacks[i] if measured else ""  # all are poses of one skeleton
        rows.append(ComparedRow(name, unit, values, tuple(own.places[i] for own in measured), best, worst, lacks))
    return tuple(rows)


def rank_as_read(row: ComparedRow, cells: Sequence[str]) -> ComparedRow:
    """The same row, ranked by what is read of it: values that are written alike are as good as each other.

    cells : each value as it is written
    """
    best, worst = ({cells[i] for i in marked} for marked in (row.best, row.worst))
    if best & worst:
        return replace(row, best=(), worst=())
    read = [tuple(i for i, cell in enumerate(cells) if cell in texts) for texts in (best, worst)]
    return replace(row, best=read[0], worst=read[1])


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
