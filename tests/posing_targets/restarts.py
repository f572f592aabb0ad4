"""Other beginnings: a pair of limbs, the neck or the tail thrown into many random attitudes, the best ones tuned.

A search that goes downhill alone takes a left leg for the right one, or lays a shin where the thigh belongs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from eye import PLANES, Eye
from plan import Plan
from scipy.spatial import cKDTree
from tuning import soften, tune

KEPT, APART = 4, 0.25
"""So many beginnings are tuned; they differ by so much in at least one argument."""
_FIRST_ROUNDS, _MORE_ROUNDS = 8, 6


@dataclass(frozen=True, eq=False)
class _Throws:
    """Attitudes of one part: arguments (n, a), what it lays beside the target (n,), what of the target is left bare
    (n, places) [m]."""

    places: np.ndarray
    arguments: np.ndarray
    beside: np.ndarray
    bare_m: np.ndarray


def begin_again(
    plan: Plan,
    eye: Eye,
    x: np.ndarray,
    parts: Sequence[str],
    far_m: float,
    stiff: float,
    rng: np.random.Generator,
    count: int,
) -> np.ndarray:
    """The best arguments (n,) of those given and of beginnings with one part or two parts elsewhere, tuned.

    count : of random attitudes of each part
    """
    free = plan.list_arguments(*parts)
    best = tune(plan, eye, x, far_m, stiff, _MORE_ROUNDS)
    for begun in _pick(plan, eye, x, parts, far_m, rng, count):
        near, _ = tune(plan, eye, begun, far_m, stiff, _FIRST_ROUNDS, free)
        found = tune(plan, eye, near, far_m, stiff, _MORE_ROUNDS)
        best = min(best, found, key=lambda own: own[1])
    return best[0]


def _pick(
    plan: Plan, eye: Eye, x: np.ndarray, parts: Sequence[str], far_m: float, rng: np.random.Generator, count: int
) -> list[np.ndarray]:
    """Arguments (n,) of the beginnings that look best, the rest of the animal staying as it is."""
    world = eye.cloud.move(plan.move(x)[1])
    moved = [_find_moved(plan, eye, part) for part in parts]
    rest = world[~np.any(moved, axis=0)]
    bare = {view: _find_bare(eye, view, rest[:, plane], eye.places[view]) for view, plane in PLANES.items()}
    thrown = [_throw(plan, eye, x, part, own, bare, far_m, rng, count) for part, own in zip(parts, moved, strict=True)]
    if len(thrown) == 1:
        rates = thrown[0].beside + soften(thrown[0].bare_m, far_m).sum(axis=1) / eye.count
    else:
        one, other = thrown
        both = [soften(np.minimum(own, other.bare_m), far_m).sum(axis=1) for own in one.bare_m]
        rates = one.beside[:, None] + other.beside + np.array(both) / eye.count
    begun: list[np.ndarray] = []
    for place in np.argsort(rates, axis=None).tolist():
        trial = x.copy()
        for own, at in zip(thrown, np.unravel_index(place, rates.shape), strict=True):
            trial[own.places] = own.arguments[at]
        if all(np.abs(trial - other).max() > APART for other in begun):
            begun.append(trial)
        if len(begun) == KEPT:
            break
    return begun


def _throw(
    plan: Plan,
    eye: Eye,
    x: np.ndarray,
    part: str,
    moved: np.ndarray,
    bare: dict[str, tuple[np.ndarray, np.ndarray]],
    far_m: float,
    rng: np.random.Generator,
    count: int,
) -> _Throws:
    cloud, places = eye.cloud.take(moved), plan.list_arguments(part)
    arguments = np.stack([x[places], *(_draw(plan, part, rng) for _ in range(count - 1))])
    beside, bare_m = np.zeros(count), []
    for k, own in enumerate(arguments):
        trial = x.copy()
        trial[places] = own
        world, left = cloud.move(plan.move(trial)[1]), []
        for view, plane in PLANES.items():
            flat = world[:, plane]
            beside[k] += soften(eye.find_away(view, flat)[0], far_m).sum() / eye.points
            wanted, off_m = bare[view]
            left.append(np.minimum(off_m, _find_bare(eye, view, flat, wanted, keep=True)[1]))
        bare_m.append(np.concatenate(left))
    return _Throws(places, arguments, beside, np.array(bare_m))


def _draw(plan: Plan, part: str, rng: np.random.Generator) -> np.ndarray:
    """Random arguments of a part: of a limb every one anywhere in its range, a chain in an even bend along it."""
    runs = plan.parts[part]
    if len(runs) <= 3:
        return rng.uniform(-1, 1, len(plan.list_arguments(part)))
    u = np.linspace(-1, 1, len(runs))
    bends = [rng.uniform(-1, 1) + rng.uniform(-1, 1) * u + rng.uniform(-1, 1) * (u * u - 0.5) / 2 for _ in range(2)]
    return np.clip(np.stack(bends, axis=1), -1, 1).ravel()


def _find_moved(plan: Plan, eye: Eye, part: str) -> np.ndarray:
    """(n,) whether a part carries each of the eye's points."""
    first = plan.runs[plan.parts[part][0]].children[0]
    moved: np.ndarray = plan.linkage.above[eye.cloud.mover, plan.mover_of[plan.posing.rows[first]]]
    return moved


def _find_bare(
    eye: Eye, view: str, flat: np.ndarray, places: np.ndarray, keep: bool = False
) -> tuple[np.ndarray, np.ndarray]:
    """Those of the target's places that points (n, 2) leave bare, or with `keep` all, and how far each is from them."""
    if not len(places):
        return places, np.zeros(0)
    distance, _ = cKDTree(flat, balanced_tree=False, compact_nodes=False).query(places)
    off_m = np.maximum(distance - eye.spacing_m[view], 0)
    chosen = np.flatnonzero((off_m > 0) | keep)
    return places[chosen], off_m[chosen]
