"""Joints turned so that elements come to their goals: every joint inside its range, the turn shared out by the ranges.

Of all attitudes inside the ranges the one is looked for that lessens

    |misses / λ|² + Σ ((q − q_start) / (share · range))²

by Gauss–Newton steps. A joint that a step would take out of its range is kept to the facet of its boundary that it
would cross, and the step is made again by the others (an active set); what curvature then leaves outside is drawn back
in. So the result is inside after every step, not by a penalty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array, make_transform
from .bounds import Bounds, measure_uses, pull_inside
from .goals import Goal, Rows, find_turn, make_turn, weigh_goal
from .linkage import Linkage, find_axes, move_linkage

MISS = 1e-3
"""λ: misses as shares of the size, or of three radians, that weigh as much as one joint turned through its range."""
RADIANS_A_SIZE = 3.0
"""A place missed by the skeleton's size counts as much as an attitude missed by so many radians."""
HELD_WEIGHT = 20.0
"""What is held in its place counts so many times as much as a goal."""
ROOT_TURN_RAD, ROOT_SHIFT = 0.5, 0.2
"""What the root's turn [rad] and shift (share of the size) are shared a part by, as a joint by its range."""
_PASSES, _HALVINGS = 8, 4
_SETTLED = 1e-5
"""Steps end where one lessens the misses and turns, as they are weighed, by less than this share."""
_ACTIVE = 1e-9


@dataclass(frozen=True, eq=False)
class Task:
    """What is solved: see the module.

    bounds : of the linkage's movers, (k); shares : (k,) how readily each joint turns, zero of those that do not
    goals, weights : what is asked, and how much each counts
    elements : (g, 4, 4) X_WE at neutral of the goals' elements
    root : how readily the whole moves, zero where it stays; pivot_m : (3,) the root's centre at neutral
    """

    linkage: Linkage
    bounds: Bounds
    shares: Array
    goals: Sequence[Goal]
    weights: Sequence[float]
    elements: Array
    root: float
    pivot_m: Array
    size_m: float


@dataclass(frozen=True, eq=False)
class State:
    """Angles (k, 3) of the linkage's joints and the whole's placement (4, 4)."""

    angles_rad: Array
    X_WN: Array


@dataclass(frozen=True, eq=False)
class _Step:
    """The quadratic problem at a state: misses off (r,), how the unknowns make them up (r, u), their way back to the
    start (u,), how readily each goes (u,)."""

    off: Array
    made_up: Array
    back: Array
    ease: Array


def solve_task(task: Task, start: State, now: State, steps: int) -> State:
    """The state that the goals ask for, from `now` on; start : from which turns are counted.

    `now` is drawn into the ranges first. A function of its arguments alone: no clock, no chance.
    """
    turning = task.shares > 0
    angles = np.where(turning[:, None], pull_inside(task.bounds, now.angles_rad), now.angles_rad)
    state = State(angles, now.X_WN)
    motions = move_linkage(task.linkage, state.angles_rad, state.X_WN)
    rows = _weigh_goals(task, motions)
    cost = _measure_cost(task, start, state, rows)
    for _ in range(steps):
        way = _find_way(task, _make_step(task, start, state, motions, rows), state)
        for halving in range(_HALVINGS):
            trial = _go(task, state, way * 0.5**halving)
            trial_motions = move_linkage(task.linkage, trial.angles_rad, trial.X_WN)
            trial_rows = _weigh_goals(task, trial_motions)
            trial_cost = _measure_cost(task, start, trial, trial_rows)
            if trial_cost < cost:
                break
        else:
            return state
        gain, state, motions, rows, cost = cost - trial_cost, trial, trial_motions, trial_rows, trial_cost
        if gain < _SETTLED * cost:
            return state
    return state


def measure_misses(task: Task, state: State) -> Array:
    """(g,) how far each goal is missed: metres of a place, radians of an attitude or a direction."""
    motions = move_linkage(task.linkage, state.angles_rad, state.X_WN)
    return np.array([np.linalg.norm(rows.off) for rows in _weigh_goals(task, motions)])


def _weigh_goals(task: Task, motions: Array) -> list[Rows]:
    places = [task.linkage.places[goal.element] for goal in task.goals]
    stands = motions[places] @ task.elements
    return [weigh_goal(goal, X) for goal, X in zip(task.goals, stands, strict=True)]


def _scale_rows(task: Task, rows: Sequence[Rows]) -> Array:
    """(g,) what misses are divided by to be weighed."""
    sizes = [task.size_m if own.in_metres else RADIANS_A_SIZE for own in rows]
    scales: Array = MISS * np.array(sizes) / np.asarray(task.weights, float)
    return scales


def _measure_cost(task: Task, start: State, state: State, rows: Sequence[Rows]) -> float:
    misses = np.array([own.off for own in rows]) / _scale_rows(task, rows)[:, None]
    away, ease = _measure_away(task, start, state)
    turns = np.divide(away, ease, out=np.zeros_like(away), where=ease > 0)
    return float((misses**2).sum() + (turns**2).sum())


def _measure_away(task: Task, start: State, state: State) -> tuple[Array, Array]:
    """(u,) how far each unknown is from where it started, and how readily it goes; the root's last."""
    away = (state.angles_rad - start.angles_rad).ravel()
    ease = (task.bounds.widths * task.shares[:, None]).ravel()
    turned = find_turn(state.X_WN[:3, :3] @ start.X_WN[:3, :3].T)
    shifted = (state.X_WN - start.X_WN)[:3] @ np.append(task.pivot_m, 1.0)
    root = task.root * np.repeat([ROOT_TURN_RAD, ROOT_SHIFT * task.size_m], 3)
    return np.concatenate([away, turned, shifted]), np.concatenate([ease, root])


def _make_step(task: Task, start: State, state: State, motions: Array, rows: Sequence[Rows]) -> _Step:
    axes, centres = find_axes(task.linkage, state.angles_rad, motions)
    pivot = state.X_WN[:3, :3] @ task.pivot_m + state.X_WN[:3, 3]
    parts = []
    for goal, own in zip(task.goals, rows, strict=True):
        above = task.linkage.above[task.linkage.places[goal.element]]
        arms = np.where(above[:, None], own.point_m - centres, 0.0)
        turns = np.where(above[:, None, None], axes, 0.0)
        joints = turns @ own.turn.T + np.cross(turns, arms[:, None]) @ own.shift.T
        arm = own.point_m - pivot
        about = np.eye(3) @ own.turn.T + np.cross(np.eye(3), arm) @ own.shift.T
        parts.append(np.concatenate([joints.reshape(-1, 3), about, own.shift.T]).T)
    scale = np.repeat(_scale_rows(task, rows), 3)
    away, ease = _measure_away(task, start, state)
    off = np.concatenate([own.off for own in rows])
    return _Step(off / scale, np.concatenate(parts) / scale[:, None], -away, ease)


def _find_way(task: Task, step: _Step, state: State) -> Array:
    """(u,) the step that lessens the quadratic problem, its joints kept to the facets they would cross."""
    k = len(state.angles_rad)
    spread = np.zeros((k + 2, 3, 3))
    spread[:, range(3), range(3)] = step.ease.reshape(-1, 3) ** 2
    base = np.where(step.ease > 0, step.back, 0.0).reshape(-1, 3)
    blocks = step.made_up.reshape(len(step.off), -1, 3)
    way = base.ravel()
    for _ in range(_PASSES):
        eased = np.einsum("ruj,uji->rui", blocks, spread).reshape(len(step.off), -1)
        left = step.off - step.made_up @ base.ravel()
        pull = np.linalg.solve(eased @ step.made_up.T + np.eye(len(left)), left)
        way = base.ravel() + pull @ eased
        if not _keep_in(task.bounds, state.angles_rad, way[: 3 * k].reshape(k, 3), base, spread):
            break
    return way


def _keep_in(bounds: Bounds, angles: Array, way: Array, base: Array, spread: Array) -> bool:
    """Hold what would leave its range to the facet it would cross; whether there was any. Writes base and spread."""
    trial = angles + way
    free = np.einsum("kii->k", spread[: len(angles)]) > 0
    boxed = np.clip(trial, bounds.low, bounds.high)
    out = (np.abs(boxed - trial) > _ACTIVE) & free[:, None]
    use, _ = measure_uses(bounds, trial)
    crossed = np.flatnonzero((use > 1 + _ACTIVE) & free)
    for k, axis in zip(*np.nonzero(out), strict=True):
        _hold_facet(k, np.eye(3)[axis], float(boxed[k, axis] - angles[k, axis]), base, spread)
    if len(crossed):
        own = bounds.take(crossed)
        border = pull_inside(own, trial[crossed])
        _, facing = measure_uses(own, border)
        for k, normal, place in zip(crossed.tolist(), facing, border - angles[crossed], strict=True):
            _hold_facet(k, normal, float(normal @ place), base, spread)
    return bool(out.any() or len(crossed))


def _hold_facet(k: int, normal: Array, offset: float, base: Array, spread: Array) -> None:
    """Let joint k step to a plane and along it alone: its step times the normal (3,) is the offset."""
    eased = spread[k] @ normal
    stiff = float(normal @ eased)
    if stiff <= 1e-12 * float(normal @ normal):
        return  # facets it is held to already leave it no way there
    base[k] += eased * ((offset - float(normal @ base[k])) / stiff)
    spread[k] -= np.outer(eased, eased) / stiff


def _go(task: Task, state: State, way: Array) -> State:
    k = len(state.angles_rad)
    turning: NDArray[np.bool_] = task.shares > 0
    asked = state.angles_rad + way[: 3 * k].reshape(k, 3)
    angles = np.where(turning[:, None], pull_inside(task.bounds, asked), state.angles_rad)
    if not task.root:
        return State(angles, state.X_WN)
    R = make_turn(way[3 * k : 3 * k + 3])
    pivot = state.X_WN[:3, :3] @ task.pivot_m + state.X_WN[:3, 3]
    place = pivot + way[3 * k + 3 :] - R @ (pivot - state.X_WN[:3, 3])
    return State(angles, make_transform(R @ state.X_WN[:3, :3], place))
