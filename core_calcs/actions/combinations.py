"""Combinations of actions at joints, after EN 1990, 6.4.3.2 and 6.5.3: the worst of an effect over all of them.

An effect (axial force, a bending moment of two components) is linear in the forces: every combination of every action
in every way is a sum of vectors with factors. What is greatest in a direction is summed from what each action gives
most in it, so that the sums need not be written out; a resultant is the greatest over all directions.
Nothing here says which standard, annex or value holds where the skeleton stands: the sets are starting points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..site.actions import Factors
from ..spatial.transforms import Array

TURNS = 5
"""Rounds in which the direction of a resultant follows what was found; two are usual."""


@dataclass(frozen=True)
class Expression:
    """One sum of EN 1990.

    name : its number there
    least, greatest : factor on the self-weight, all of one source, where it is for and where it is against
    variable : factor on variable actions: of the leading one in full, of the others times each one's share (psi 0)
    leads : whether one leads; else all take their shares
    """

    name: str
    least: float
    greatest: float
    variable: float
    leads: bool = True

    def weigh(self, shares: Array, leading: int) -> Array:
        """(a,) the factor on every action, one of them leading; -1: none."""
        own = np.where(np.arange(len(shares)) == leading, 1.0, shares)
        weights: Array = self.variable * own
        return weights


@dataclass(frozen=True, eq=False)
class Chosen:
    """The combination in which an effect is greatest, of every cut (c,).

    value : (c,) along the direction that was asked for, or the resultant
    expression : (c,) index; `permanent` (c,) the factor on the self-weight in it
    leading : (c,) index of the leading action; -1: none acts
    ways : (c, a) index of the way in which every action acts; -1: it does not, as it would relieve
    """

    value: Array
    expression: np.ndarray
    permanent: Array
    leading: np.ndarray
    ways: np.ndarray

    def list_factors(self, expressions: Sequence[Expression], shares: Array) -> Array:
        """(c, a) the factor on every action, its psi 0 included; 0 where it does not act."""
        weights = {
            pair: expressions[pair[0]].weigh(shares, pair[1])
            for pair in set(zip(self.expression.tolist(), self.leading.tolist(), strict=True))
        }
        own = [weights[pair] for pair in zip(self.expression.tolist(), self.leading.tolist(), strict=True)]
        factors: Array = np.array(own, float).reshape(self.ways.shape) * (self.ways >= 0)
        return factors


def list_strength(factors: Factors) -> tuple[Expression, ...]:
    """(6.10) of the strength set, or (6.10a) and (6.10b) where the self-weight is reduced by a xi below 1."""
    least, most, variable = factors.strength_for, factors.strength_against, factors.strength_variable
    if factors.reduction >= 1:
        return (Expression("6.10", least, most, variable),)
    reduced = factors.reduction * most
    return (
        Expression("6.10a", least, most, variable, leads=False),
        Expression("6.10b", min(least, reduced), reduced, variable),
    )


CHARACTERISTIC = (Expression("6.14", 1.0, 1.0, 1.0),)
"""Self-weight, the leading action, the others with psi 0, all without partial factors."""


def spread_round(count: int = 72) -> Array:
    """(count, 2) unit vectors evenly round: a resultant found along the nearest is short by .1 % at most."""
    angles = 2 * np.pi * np.arange(count) / count
    return np.stack([np.cos(angles), np.sin(angles)], axis=1)


def find_worst(
    permanent: ArrayLike,
    variable: Sequence[Array],
    expressions: Sequence[Expression],
    shares: ArrayLike,
    along: ArrayLike,
) -> Chosen:
    """The greatest effect at every cut over all combinations.

    Parameters
    ----------
    permanent : (c, m) effects of the self-weight
    variable : of every action (w, c, m), in each of its ways, of which one acts at a time, or none
    shares : (a,) psi 0 of every action
    along : (u, m) directions of which the best is taken; of two components or more it then follows what it found
    """
    p, psi = np.asarray(permanent, float), np.asarray(shares, float)
    starts = np.broadcast_to(np.asarray(along, float)[None], (len(p), *np.shape(along)))
    best = _start(p, len(variable))
    ways, parts = _choose_ways(starts, variable)
    for e, expression in enumerate(expressions):
        # What leads may be an action that does not act at a cut, as it would relieve: its part is then nothing.
        for leader in range(len(variable)) if expression.leads and variable else (-1,):
            weights = expression.weigh(psi, leader)
            _take(best, _combine(p, starts, expression, weights, ways, parts), e, leader)
            if p.shape[1] > 1:
                _take(best, _follow(p, variable, expression, weights, best), e, leader)
    silent = np.zeros(len(p), bool)
    if variable:
        silent = np.take_along_axis(best.ways, np.maximum(best.leading, 0)[:, None], axis=1)[:, 0] < 0
    return Chosen(best.value, best.expression, best.permanent, np.where(silent, -1, best.leading), best.ways)


@dataclass(frozen=True, eq=False)
class _Best:
    """As `Chosen`, filled as better ones are found, with the vectors (c, m) that they come to."""

    value: Array
    expression: np.ndarray
    permanent: Array
    leading: np.ndarray
    ways: np.ndarray
    vector: Array


@dataclass(frozen=True, eq=False)
class _Found:
    value: Array
    permanent: Array
    ways: np.ndarray
    vector: Array


def _start(p: Array, actions: int) -> _Best:
    c = len(p)
    none = np.full(c, -np.inf)
    return _Best(none, np.zeros(c, int), np.ones(c), np.full(c, -1), np.full((c, actions), -1), p.copy())


def _choose_ways(along: Array, variable: Sequence[Array]) -> tuple[np.ndarray, Array]:
    """Of every action (a, c, u) the way that gives most along (c, u, m), -1 where none gives any, and its effect."""
    cuts = np.arange(along.shape[0])[:, None]
    ways = np.full((len(variable), *along.shape[:2]), -1)
    parts = np.zeros((len(variable), *along.shape))
    for a, effects in enumerate(variable):
        gives = np.einsum("wcm,cum->wcu", effects, along, optimize=True)
        way = gives.argmax(axis=0)
        acts = np.take_along_axis(gives, way[None], axis=0)[0] > 0
        ways[a] = np.where(acts, way, -1)
        parts[a] = np.where(acts[:, :, None], effects[way, cuts], 0.0)
    return ways, parts


def _combine(p: Array, along: Array, expression: Expression, weights: Array, ways: np.ndarray, parts: Array) -> _Found:
    """The best of the directions (c, u, m) at every cut."""
    against = np.einsum("cm,cum->cu", p, along) > 0
    factor = np.where(against, expression.greatest, expression.least)
    vectors = factor[:, :, None] * p[:, None, :] + np.einsum("a,acum->cum", weights, parts)
    values = np.linalg.norm(vectors, axis=2) if p.shape[1] > 1 else (vectors * along).sum(axis=2)
    u, cuts = values.argmax(axis=1), np.arange(len(p))
    return _Found(values[cuts, u], factor[cuts, u], ways[:, cuts, u].T, vectors[cuts, u])


def _follow(p: Array, variable: Sequence[Array], expression: Expression, weights: Array, best: _Best) -> _Found:
    """From the best so far: along what was found something greater may be found, until nothing is."""
    vector = best.vector
    for _ in range(TURNS):
        length = np.linalg.norm(vector, axis=1, keepdims=True)
        along = np.divide(vector, length, out=np.zeros_like(vector), where=length > 0)[:, None, :]
        found = _combine(p, along, expression, weights, *_choose_ways(along, variable))
        vector = found.vector
    return found


def _take(best: _Best, found: _Found, expression: int, leading: int) -> None:
    better = found.value > best.value
    best.value[better], best.permanent[better] = found.value[better], found.permanent[better]
    best.ways[better], best.vector[better] = found.ways[better], found.vector[better]
    best.expression[better], best.leading[better] = expression, leading
