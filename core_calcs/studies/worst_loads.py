"""What passes through joints and beams at worst, over all combinations of self-weight, wind, pushes and people."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..actions.combinations import CHARACTERISTIC, Chosen, Expression, find_worst, list_strength, spread_round
from ..site.actions import Factors
from ..spatial.transforms import Array
from .acted_figures import Figure, Level, Part, WorstLoad
from .effects import Effects, solve_combination

FIGURES: dict[Figure, tuple[tuple[int, ...], Array]] = {
    "tension": ((0,), np.array([[1.0]])),
    "compression": ((0,), np.array([[-1.0]])),
    "shear": ((1, 2), spread_round()),
    "torsion": ((3,), np.array([[1.0], [-1.0]])),
    "bending": ((4, 5), spread_round()),
}
"""By figure: which of the six components along the joint's or beam's axes, and along which directions of them."""

TIPS = "the feet keep no equilibrium in it: the whole tips, or slides on a point"
UNKNOWN = "foot reactions under self-weight"


@dataclass(frozen=True, eq=False)
class Cuts:
    """Joints to be looked at, by their bodies (c,), and axes (c, 3, 3), rows: axial, two across."""

    chain: str
    names: tuple[str, ...]
    bodies: np.ndarray
    axes: Array


@dataclass(frozen=True, eq=False)
class _Combination:
    """One combination: factors (a,) on the actions and the way of each, -1 where it does not act."""

    expression: str
    permanent: float
    leading: int
    factors: Array
    ways: np.ndarray

    @property
    def key(self) -> bytes:
        """The same of combinations that come to the same forces."""
        return np.concatenate([[self.permanent], self.factors, self.ways]).tobytes()


@dataclass(frozen=True, eq=False)
class _Search:
    """The worst of one figure at cuts (c,): value, all that passes through (c, 6), and the combination of each."""

    cuts: Cuts
    level: Level
    figure: Figure
    values: Array
    loads: Array
    combinations: tuple[_Combination, ...]


def list_worst(effects: Effects, factors: Factors, groups: Sequence[Cuts]) -> tuple[WorstLoad, ...]:
    """Every figure of every cut of every group, characteristic and design.

    A cut beyond which no foot stands is exact over all combinations. Between feet every combination that would govern
    somewhere, were reactions linear, is solved with feet that let go, and the worst of those is taken.
    """
    searches = [search for cuts in groups for search in _search(effects, factors, cuts)]
    solved: dict[Level, dict[bytes, _Solved]] = {}
    for search in searches:
        _solve_between(effects, search, solved.setdefault(search.level, {}))
    return tuple(
        _word(effects, search, c, solved[search.level]) for search in searches for c in range(len(search.cuts.names))
    )


@dataclass(frozen=True, eq=False)
class _Solved:
    """A combination with the wrenches (n, 6) about the joints; None where the feet keep no equilibrium in it."""

    combination: _Combination
    wrenches: Array | None


def _solve_between(effects: Effects, search: _Search, solved: dict[bytes, _Solved]) -> None:
    """Solve the combinations of cuts between feet that are not there yet."""
    for body, own in zip(search.cuts.bodies.tolist(), search.combinations, strict=True):
        if effects.between[body] and effects.known[body] and own.key not in solved:
            solved[own.key] = _Solved(own, solve_combination(effects, own.permanent, own.factors, own.ways))


def _search(effects: Effects, factors: Factors, cuts: Cuts) -> Iterator[_Search]:
    permanent = _resolve(effects.permanent[cuts.bodies], cuts.axes)
    variable = [_resolve(own[:, cuts.bodies], cuts.axes) for own in effects.variable]
    shares = np.full(len(variable), factors.accompanying)
    levels: tuple[tuple[Level, tuple[Expression, ...]], ...]
    levels = (("characteristic", CHARACTERISTIC), ("design", list_strength(factors)))
    for level, expressions in levels:
        for figure, (components, along) in FIGURES.items():
            own = list(components)
            parts = [part[:, :, own] for part in variable]
            chosen = find_worst(permanent[:, own], parts, expressions, shares, along)
            weights = chosen.list_factors(expressions, shares)
            loads = _combine(permanent, variable, chosen, weights)
            rows = zip(chosen.expression, chosen.permanent.tolist(), chosen.leading.tolist(), strict=True)
            combinations = tuple(
                _Combination(expressions[e].name, share, leading, weights[c], chosen.ways[c])
                for c, (e, share, leading) in enumerate(rows)
            )
            yield _Search(cuts, level, figure, chosen.value, loads, combinations)


def _resolve(wrenches: Array, axes: Array) -> Array:
    """Wrenches (..., c, 6), world, along axes (c, 3, 3): axial, two shears, torsion, two bendings."""
    local = [np.einsum("cij,...cj->...ci", axes, wrenches[..., half]) for half in (slice(0, 3), slice(3, 6))]
    resolved: Array = np.concatenate(local, axis=-1)
    return resolved


def _combine(permanent: Array, variable: Sequence[Array], chosen: Chosen, factors: Array) -> Array:
    """(c, 6) all that passes through every cut in its combination."""
    loads = chosen.permanent[:, None] * permanent
    for a, own in enumerate(variable):
        loads = loads + factors[:, a, None] * own[chosen.ways[:, a], np.arange(len(permanent))]
    return loads


def _word(effects: Effects, search: _Search, c: int, solved: Mapping[bytes, _Solved]) -> WorstLoad:
    """The worst of one figure at one cut, by name."""
    cuts, own, actions = search.cuts, search.combinations[c], effects.actions
    value: float | None = float(search.values[c])
    load: Array | None = search.loads[c]
    missing = ""
    if not effects.known[cuts.bodies[c]]:
        value, load, missing = None, None, UNKNOWN
    elif effects.between[cuts.bodies[c]]:
        if solved[own.key].wrenches is None:
            value, load, missing = None, None, TIPS
        else:
            value, load, own = _find_between(search, c, solved)
    return WorstLoad(
        joint=cuts.names[c],
        chain=cuts.chain,
        level=search.level,
        figure=search.figure,
        value_N_or_Nm=value,
        load=load,
        expression=own.expression,
        permanent=own.permanent,
        leading=actions[own.leading].name if own.leading >= 0 else "",
        parts=tuple(
            Part(actions[a].name, float(own.factors[a]), actions[a].directions[way])
            for a, way in enumerate(own.ways.tolist())
            if way >= 0
        ),
        missing=missing,
    )


def _find_between(search: _Search, c: int, solved: Mapping[bytes, _Solved]) -> tuple[float, Array, _Combination]:
    """The worst of those solved, at a cut between feet: its value, load (6,) and combination."""
    standing = [(own.combination, own.wrenches) for own in solved.values() if own.wrenches is not None]
    body, axes = search.cuts.bodies[c], search.cuts.axes[None, c]
    loads = _resolve(np.stack([wrenches[None, body] for _, wrenches in standing]), axes)[:, 0]
    components, along = FIGURES[search.figure]
    own = loads[:, list(components)]
    values = np.linalg.norm(own, axis=1) if len(components) > 1 else (own @ along.T).max(axis=1)
    k = int(values.argmax())
    return float(values[k]), loads[k], standing[k][0]
