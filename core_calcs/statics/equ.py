"""Static equilibrium with partial factors about every axis of tipping (EN 1990, set EQU).

What overturns is held against what holds: each element's weight on its own side of the axis takes that side's factor,
variable actions count where they overturn and nothing where they hold. One variable action leads at a time, the others
accompany it, each in its own worst way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..site.actions import Factors
from ..spatial.transforms import Array
from .stability import Axes, measure_holding


@dataclass(frozen=True, eq=False)
class Action:
    """A variable action in every way in which it may act, one at a time.

    forces_N, points_m : (w, 3) characteristic forces on the whole and a point of each one's line, world
    free : the force may come horizontally from anywhere: its ways are a choice all round
    """

    name: str
    kind: str
    forces_N: Array
    points_m: Array
    free: bool = False


@dataclass(frozen=True, eq=False)
class Sides:
    """Moments (k,) [N·m] of the weights about every axis: of those that hold, and of those beyond it; none negative."""

    holding_Nm: Array
    overturning_Nm: Array


@dataclass(frozen=True, eq=False)
class Overturning:
    """One combination about every axis, design values.

    leading : index of the leading action; None: self-weight alone
    way : (k,) index of the leading action's way that is worst for each axis; None without one
    accompanying : (a, k) index of every action's way that goes with it, -1 where it does not act; None without any
    holding_Nm, overturning_Nm : (k,)
    """

    leading: int | None
    way: np.ndarray | None
    accompanying: np.ndarray | None
    holding_Nm: Array
    overturning_Nm: Array

    @property
    def utilisation(self) -> Array:
        """Overturning over holding (k,): 1 is used up; infinite where nothing holds."""
        return divide_moments(self.overturning_Nm, self.holding_Nm)


def divide_moments(overturning_Nm: ArrayLike, holding_Nm: ArrayLike) -> Array:
    """What overturns over what holds, both >= 0: 0 where nothing overturns, infinite where nothing holds against it."""
    over, holds = np.asarray(overturning_Nm, float), np.asarray(holding_Nm, float)
    ratio: Array = np.where(over > 0, np.inf, 0.0)
    np.divide(over, holds, out=ratio, where=holds > 0)
    return ratio


def split_weights(axes: Axes, weights_N: ArrayLike, centres_m: ArrayLike) -> Sides:
    """Weights (n,) of elements with centres (n, 3), each on its own side of every axis."""
    weights = np.asarray(weights_N, float)
    forces = np.zeros((len(weights), 3))
    forces[:, 2] = -weights
    moments = measure_holding(axes, forces, centres_m)
    return Sides(np.maximum(moments, 0).sum(axis=0), np.maximum(-moments, 0).sum(axis=0))


def find_overturning_factors(sides: Sides, action_Nm: ArrayLike) -> Array:
    """Holding over overturning moment about every axis, characteristic, without partial factors; infinite where
    nothing overturns.

    action_Nm : (k,) overturning moments of what acts besides the weight
    """
    over = sides.overturning_Nm + np.maximum(np.asarray(action_Nm, float), 0)
    factors = np.full(len(over), np.inf)
    np.divide(sides.holding_Nm, over, out=factors, where=over > 0)
    return factors


def find_allowed(sides: Sides, factors: Factors) -> Array:
    """Characteristic moments (k,) of one action that use up what the self-weight leaves; < 0: less than nothing."""
    left: Array = factors.permanent_for * sides.holding_Nm - factors.permanent_against * sides.overturning_Nm
    return left / factors.variable_against


def face_axes(action: Action, axes: Axes) -> Action:
    """A free action with the ways added that overturn most about each axis, however its own ways are spread."""
    if not action.free or not len(action.forces_N):
        return action
    point = action.points_m[0]
    offset = point - axes.start_m
    across, up = (offset * axes.inward).sum(axis=1), (offset * axes.upward).sum(axis=1)
    # How much a horizontal unit force holds, by its components: against that it overturns most.
    holding = (up[:, None] * axes.inward - across[:, None] * axes.upward)[:, :2]
    length = np.hypot(holding[:, 0], holding[:, 1])
    ways = np.zeros((len(length), 3))
    ways[:, :2] = -holding / np.where(length > 0, length, 1.0)[:, None]
    size = np.linalg.norm(action.forces_N[0])
    forces = np.concatenate([action.forces_N, size * ways])
    points = np.concatenate([action.points_m, np.tile(point, (len(ways), 1))])
    return Action(action.name, action.kind, forces, points, True)


def combine_overturning(axes: Axes, sides: Sides, actions: Sequence[Action], factors: Factors) -> list[Overturning]:
    """Every combination about every axis: self-weight alone, then each action leading in turn."""
    holding = factors.permanent_for * sides.holding_Nm
    permanent = factors.permanent_against * sides.overturning_Nm
    found = [Overturning(None, None, None, holding, permanent)]
    moments = [np.maximum(-measure_holding(axes, action.forces_N, action.points_m), 0) for action in actions]
    worst = [m.argmax(axis=0) for m in moments]
    most = np.array([m.max(axis=0) for m in moments]).reshape(len(actions), len(holding))
    used = np.where(most > 0, np.array(worst).reshape(most.shape), -1)
    for i in range(len(actions)):
        others = np.delete(most, i, axis=0).sum(axis=0)
        variable = factors.variable_against * (most[i] + factors.accompanying * others)
        beside = used.copy()
        beside[i] = -1
        found.append(Overturning(i, worst[i], beside, holding, permanent + variable))
    return found
