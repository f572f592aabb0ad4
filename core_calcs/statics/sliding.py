"""Whether friction keeps the whole in its place, with partial factors (EN 1990, set EQU)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..site.actions import Factors
from ..spatial.transforms import Array
from .equ import Action
from .rose import spread_directions

ROUNDS = 30
"""Steps of the search for the worst push; a handful is usual."""


@dataclass(frozen=True, eq=False)
class Push:
    """One combination of actions, in the ways that push hardest along the ground for what presses on it.

    leading : index of the leading action; None: self-weight alone
    ways : (a,) index of every action's way, -1 where it does not act
    shares : (a,) factor on each, of what acts alone
    push_N : (2,) design force along the ground
    press_N : design force on the ground: of the weight what is sure, with what the actions add or take
    """

    leading: int | None
    ways: np.ndarray
    shares: Array
    push_N: Array
    press_N: float


def find_sliding_factor(weight_N: float, push_N: ArrayLike, friction: float) -> float:
    """Friction that can be called up over the horizontal push (2,) [N], without partial factors; infinite without a
    push."""
    push = float(np.hypot(*np.asarray(push_N, float)))
    return friction * weight_N / push if push > 0 else float("inf")


def combine_pushes(weight_N: float, actions: Sequence[Action], factors: Factors) -> list[Push]:
    """Every combination: self-weight alone, then each action leading in turn.

    In every direction, of 72 and of those in which anything pushes, each action takes the way that does most there, or
    is left out; that direction counts in which the push is most of what presses.
    """
    sure = factors.permanent_for * weight_N
    idle = Push(None, np.full(len(actions), -1), np.zeros(len(actions)), np.zeros(2), sure)
    if not actions:
        return [idle]
    every = np.concatenate([action.forces_N[:, :2] for action in actions])
    sizes = np.hypot(every[:, 0], every[:, 1])
    directions = np.concatenate([spread_directions()[1][:, :2], every[sizes > 0] / sizes[sizes > 0, None]])
    along = [_Along(action.forces_N, directions @ action.forces_N[:, :2].T) for action in actions]
    first = [_choose_ways(own, 0.0) for own in along]
    return [idle] + [_find_push(along, first, leading, sure, factors) for leading in range(len(actions))]


@dataclass(frozen=True, eq=False)
class _Along:
    """An action's forces (w, 3) in its ways, and how much (d, w) they push in every direction."""

    forces_N: Array
    pushes_N: Array


@dataclass(frozen=True, eq=False)
class _Chosen:
    """For each direction (d,) the way of an action that pushes most beyond what it presses, -1 where none does, and
    the force (d, 3) in that way."""

    ways: np.ndarray
    forces_N: Array


def _find_push(
    along: Sequence[_Along], first: Sequence[_Chosen], leading: int, sure_N: float, factors: Factors
) -> Push:
    """first : what is chosen where pressing counts for nothing, as the search begins; the same whatever leads"""
    shares = np.full(len(along), factors.variable_against * factors.accompanying)
    shares[leading] = factors.variable_against
    best, needed = Push(leading, np.full(len(along), -1), 0 * shares, np.zeros(2), sure_N), 0.0
    chosen = first
    # What presses may depend on the ways too: the ratio is raised until no choice beats it (Dinkelbach 1967).
    for _ in range(ROUNDS):
        sums = sum(share * own.forces_N for share, own in zip(shares.tolist(), chosen, strict=True))
        press = sure_N - sums[:, 2]
        ratio = np.full(len(press), np.inf)
        np.divide(np.hypot(sums[:, 0], sums[:, 1]), press, out=ratio, where=press > 0)
        # Of directions that need the same, rounding apart, the first.
        worst = int((ratio >= ratio.max() * (1 - 1e-12)).argmax())
        if ratio[worst] <= needed * (1 + 1e-12):
            break
        needed = float(ratio[worst])
        ways = np.array([own.ways[worst] for own in chosen])
        best = Push(leading, ways, shares * (ways >= 0), sums[worst, :2], float(press[worst]))
        if not np.isfinite(needed):
            break
        # What is level presses on nothing: its choice stays.
        chosen = [_choose_ways(own, needed) if own.forces_N[:, 2].any() else was
                  for own, was in zip(along, chosen, strict=True)]  # fmt: skip
    return best


def _choose_ways(along: _Along, friction: float) -> _Chosen:
    scores = along.pushes_N + friction * along.forces_N[:, 2]
    ways = scores.argmax(axis=1)
    acts = scores[np.arange(len(ways)), ways] > 0
    return _Chosen(np.where(acts, ways, -1), along.forces_N[ways] * acts[:, None])


def find_needed_friction(push_N: ArrayLike, turn_Nm: float, press_N: float, lever_m: float, factors: Factors) -> float:
    """Coefficient of friction that holds a push (2,) and a moment about the vertical through the centre of pressure.

    lever_m : mean distance of what presses from that centre. All friction can hold the push alone, or press × lever of
        moment alone; between the two on a straight line, which is safe: what friction can hold is convex (Goyal, Ruina
        & Papadopoulos, Wear 143 (1991) 307-330: from memory)
    """
    load = float(np.hypot(*np.asarray(push_N, float)))
    if turn_Nm:
        load = load + abs(turn_Nm) / lever_m if lever_m > 0 else np.inf
    if load == 0:
        return 0.0
    return factors.resistance * load / press_N if press_N > 0 else float("inf")


def measure_lever(points_m: ArrayLike, presses_N: ArrayLike) -> tuple[Array, float]:
    """Centre of pressure (2,) of presses (n,) at points (n, 2), and their mean distance from it."""
    points, presses = np.asarray(points_m, float), np.asarray(presses_N, float)
    share = presses / presses.sum()
    centre = share @ points
    return centre, float(share @ np.hypot(*(points - centre).T))
