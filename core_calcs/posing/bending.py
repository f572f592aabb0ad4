"""A chain bent as one: the bend shared out by each joint's range, every joint held inside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..skeleton.pose import Pose
from ..spatial.transforms import Array
from .attitudes import hold_attitude
from .bounds import FREE_RAD, lie_within
from .posing import Posing, read_joints, write_joints

_SHARINGS = 12
"""How often what a joint could not take is shared out anew among the others."""
_LEFT_RAD = 1e-6


@dataclass(frozen=True, eq=False)
class Bent:
    """A pose with a chain bent.

    turned_rad : (3,) by how much flexion, lateral, axial of its joints add up to more than before
    at_limit : children of the joints that their ranges held
    """

    pose: Pose
    turned_rad: Array
    at_limit: tuple[str, ...]


def weigh_along(count: int, fall_off: float) -> Array:
    """(count,) how much of a bend falls to each joint from the base to the tip.

    fall_off : 0 to all alike; up to 1 the less the nearer to the tip, down to -1 the less the nearer to the base
    """
    along = np.linspace(0, 1, count) if count > 1 else np.zeros(count)
    weights: Array = 1 - abs(fall_off) * (along if fall_off > 0 else 1 - along)
    return np.clip(weights, 0, 1)


def bend_by_shares(posing: Posing, pose: Pose, children: Sequence[str], shares: ArrayLike, weights: Array) -> Bent:
    """Every joint turned farther by shares (3,) of its own range on that side, times its weight."""
    asked = _find_room(posing, children, np.asarray(shares, float)) * np.asarray(shares, float)
    return _turn_by(posing, pose, children, asked * weights[:, None])


def bend_by_angles(posing: Posing, pose: Pose, children: Sequence[str], total_rad: ArrayLike, weights: Array) -> Bent:
    """The chain bent by angles (3,) in all, in proportion to the joints' ranges on that side times their weights.

    What a joint cannot take is shared out among the others, until it is used up or none has any room.
    """
    total = np.asarray(total_rad, float)
    parts = _find_room(posing, children, total) * weights[:, None]
    bent = Bent(pose, np.zeros(3), ())
    free = np.ones(len(children), bool)
    for _ in range(_SHARINGS):
        left = total - bent.turned_rad
        whole = (parts * free[:, None]).sum(axis=0)
        if (np.abs(left) < _LEFT_RAD).all() or not free.any() or not whole.any():
            break
        more = np.divide(left, whole, out=np.zeros(3), where=whole > 0)
        step = _turn_by(posing, bent.pose, children, parts * free[:, None] * more)
        bent = Bent(step.pose, bent.turned_rad + step.turned_rad, tuple(dict.fromkeys(bent.at_limit + step.at_limit)))
        free &= ~np.isin(children, step.at_limit)
    return bent


def _find_room(posing: Posing, children: Sequence[str], way: Array) -> Array:
    """(n, 3) the range [rad] of every joint on the side of each axis that is bent to."""
    rows = [posing.find_row(child) for child in children]
    ends = np.abs(np.where(way > 0, posing.bounds.high[rows], posing.bounds.low[rows]))
    room: Array = np.where(np.isfinite(ends), ends, FREE_RAD)
    return room


def _turn_by(posing: Posing, pose: Pose, children: Sequence[str], by_rad: Array) -> Bent:
    before = read_joints(posing, pose, children)
    after = before + by_rad
    rows = np.array([posing.find_row(child) for child in children], int)
    at_limit = []
    for i in np.flatnonzero(~lie_within(posing.bounds.take(rows), after)).tolist():
        held = hold_attitude(posing.skeleton.joints[rows[i]], after[i])
        after[i] = held.angles_rad
        if held.held:
            at_limit.append(children[i])
    return Bent(write_joints(pose, children, after), (after - before).sum(axis=0), tuple(at_limit))
