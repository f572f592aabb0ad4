"""Joints turned so that elements come to their goals: every joint inside its range, the turn shared out by the ranges.

Of all attitudes inside the ranges the one is looked for that lessens

    |misses / λ|² + Σ ((q − q_start) / (share · range))²

by Gauss–Newton steps. A joint that a step would take out of its range is kept to the facet of its boundary that it
would cross, and the step is made again by the others (an active set); what curvature then leaves outside is drawn back
in. So the result is inside after every step, not by a penalty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..spatial.transforms import Array, make_transform
from .bounds import Bounds, Rows, measure_uses, pull_inside
from .goals import Goal, Off, find_turn, make_turn, weigh_goal
from .linkage import Linkage, find_axes, move_linkage

MISS = 1e-3
"""λ: misses as shares of the size, or of three radians, that weigh as much as one joint turned through its range."""
RADIANS_A_SIZE = 3.0
"""A place missed by the skeleton's size counts as much as an attitude missed by so many radians."""
HELD_WEIGHT = 20.0
"""What is held in its place counts so many times as much as a goal."""
ROOT_TURN_RAD, ROOT_SHIFT = 0.5, 0.2
"""What the root's turn [rad] and shift (share of the size) are shared a part by, as a joint by its range."""
_PASSES = 5
_BOW, _MISSED = 0.1, 1e-3
"""A chain is bowed by so much of its joints' ranges where it misses by more than this, as a share of the size."""
_MOST_MISS = 0.2
"""Of the size: no step sets out to make up more, for turns that great are no more alike to small ones."""
_SHORTER = 0.3
"""In a drag, which has few steps, a refused one is shortened as well: feet that are held slip by its square."""
_LEAST_DAMPING, _DAMPING, _MOST_DAMPING = 0.1, 10.0, 1e8
_SETTLED, _SETTLED_DRAG = 1e-5, 1e-2
"""Steps end where one lessens the misses and turns, as they are weighed, by less than this share (in a drag, whose next
call goes on from there, the second), …"""
_LITTLE = 1e-4
"""… or by no more than what one joint costs that is turned by a hundredth of its range."""
_ACTIVE, _ACTIVE_PUT_BACK = 1e-4, 1e-7
"""What crosses its boundary by no more, of the way there or in radians, is not held to it but drawn back in after; the
second where what is held is put back: what was drawn back in would keep it from its place."""


@dataclass(frozen=True, eq=False)
class Task:
    """What is solved: see the module.

    bounds : of the linkage's movers, (k); shares : (k,) how readily each joint turns, zero of those that do not
    goals, weights : what is asked, and how much each counts
    elements : (g, 4, 4) X_WE at neutral of the goals' elements
    active : how far a joint may cross its boundary before a step is held to it
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
    active: float = _ACTIVE


@dataclass(frozen=True, eq=False)
class State:
    """Angles (k, 3) of the linkage's joints and the whole's placement (4, 4)."""

    angles_rad: Array
    X_WN: Array


@dataclass(frozen=True, eq=False)
class _View:
    """What there is to see of a state: the movers' motions (k, 4, 4), how far each goal is off, what is lessened, how
    far each unknown is away from its start (u,) and how readily it goes (u,)."""

    state: State
    motions: Array
    rows: Sequence[Off]
    cost: float
    away: Array
    ease: Array


@dataclass(frozen=True, eq=False)
class _Step:
    """The quadratic problem at a state: misses off (r,), how the unknowns make them up (r, u), their way back to the
    start (u,), how readily each goes (u,)."""

    off: Array
    made_up: Array
    back: Array
    ease: Array


@dataclass(frozen=True, eq=False)
class _Facets:
    """What joints are held to in a step: of its envelope a plane, normals (k, 3) and offsets (k,) of the step from
    where the joint is; of its box the ends (k, 3) of the step about each axis. Filled as they are found."""

    crossed: NDArray[np.bool_]
    normals: Array
    offsets: Array
    ended: NDArray[np.bool_]
    ends: Array


def solve_task(task: Task, start: State, now: State, trials: int) -> State:
    """The state that the goals ask for, from `now` on; start : from which turns are counted.

    `now` is drawn into the ranges first. A function of its arguments alone: no clock, no chance. A step that does not
    lessen what is lessened is damped and tried again (Levenberg): it then makes up the misses as before, but comes
    back less of the way to the start.
    """
    shorter, settled = (1.0, _SETTLED) if now is start else (_SHORTER, _SETTLED_DRAG)
    view = _descend(task, start, now.angles_rad, now.X_WN, trials, shorter, settled)
    if now is start and any(np.linalg.norm(own.left) > _MISSED * task.size_m for own in view.rows):
        bowed = _descend(task, start, _bow(task, now.angles_rad), now.X_WN, trials)
        view = bowed if bowed.cost < view.cost else view
    return view.state


def put_back_held(task: Task, held: int, state: State, trials: int) -> State:
    """The state nearest to `state` in which what is held, the last `held` of the goals, is in its place.

    trials : how many steps are tried: few are needed, but where most joints stand at their limits
    What is out of reach pulls at what is held as well, however little that gives: here nothing else counts.
    """
    own = {name: getattr(task, name)[-held:] for name in ("goals", "weights", "elements")}
    kept = replace(task, **own, active=_ACTIVE_PUT_BACK)
    return _descend(kept, state, state.angles_rad, state.X_WN, trials).state


def _bow(task: Task, angles: Array) -> Array:
    """Angles (k, 3) with every joint flexed a little to where it has more room, and bent sideways less.

    A chain that stands straight towards what it is to come to has no first step: it may buckle any way.
    """
    bounds = task.bounds
    room = np.where(bounds.known[:, None], bounds.high + bounds.low, 0.0)
    side = np.where(room >= 0, 1.0, -1.0) * (_BOW, _BOW / 3, 0.0)
    return angles + side * bounds.widths * task.shares[:, None]


def _descend(
    task: Task,
    start: State,
    angles: Array,
    X_WN: Array,
    trials: int,
    shorter: float = 1.0,
    settled: float = _SETTLED,
) -> _View:
    """shorter : a step that is refused then sets out to make up so much less of the misses"""
    turning = task.shares > 0
    view = _look(task, start, State(np.where(turning[:, None], pull_inside(task.bounds, angles), angles), X_WN))
    step, damping, share = _make_step(task, start, view), 0.0, 1.0
    for _ in range(trials):
        part = replace(step, off=share * step.off)
        trial = _look(task, start, _go(task, view.state, _find_way(task, part, view.state, damping)))
        if trial.cost >= view.cost:
            damping, share = max(damping, _LEAST_DAMPING) * _DAMPING, shorter * share
            if damping > _MOST_DAMPING:
                break
            continue
        gain, view = view.cost - trial.cost, trial
        if share == 1 and gain < max(settled * trial.cost, _LITTLE):
            break
        step, damping, share = _make_step(task, start, view), damping / _DAMPING, min(1.0, share / shorter)
    return view


def measure_misses(task: Task, motions: Array) -> Array:
    """(g,) how far each goal is missed with the movers at motions (k, 4, 4): metres of a place, else radians."""
    return np.array([np.linalg.norm(rows.left) for rows in _weigh_goals(task, motions)])


def _weigh_goals(task: Task, motions: Array) -> list[Off]:
    places = [task.linkage.places[goal.element] for goal in task.goals]
    stands = motions[places] @ task.elements
    return [weigh_goal(goal, X) for goal, X in zip(task.goals, stands, strict=True)]


def _look(task: Task, start: State, state: State) -> _View:
    motions = move_linkage(task.linkage, state.angles_rad, state.X_WN)
    rows = _weigh_goals(task, motions)
    misses = np.array([own.left for own in rows]) / _scale_rows(task, rows)[:, None]
    away, ease = _measure_away(task, start, state)
    turns = np.divide(away, ease, out=np.zeros_like(away), where=ease > 0)
    return _View(state, motions, rows, float((misses**2).sum() + (turns**2).sum()), away, ease)


def _scale_rows(task: Task, rows: Sequence[Off]) -> Array:
    """(g,) what misses are divided by to be weighed."""
    sizes = [task.size_m if own.in_metres else RADIANS_A_SIZE for own in rows]
    scales: Array = MISS * np.array(sizes) / np.asarray(task.weights, float)
    return scales


def _measure_away(task: Task, start: State, state: State) -> tuple[Array, Array]:
    """(u,) how far each unknown is from where it started, and how readily it goes; the root's last."""
    away = (state.angles_rad - start.angles_rad).ravel()
    ease = (task.bounds.widths * task.shares[:, None]).ravel()
    turned = find_turn(state.X_WN[:3, :3] @ start.X_WN[:3, :3].T)
    shifted = (state.X_WN - start.X_WN)[:3] @ np.append(task.pivot_m, 1.0)
    root = task.root * np.repeat([ROOT_TURN_RAD, ROOT_SHIFT * task.size_m], 3)
    return np.concatenate([away, turned, shifted]), np.concatenate([ease, root])


def _make_step(task: Task, start: State, view: _View) -> _Step:
    axes, centres = find_axes(task.linkage, view.state.angles_rad, view.motions)
    X_WN = view.state.X_WN
    pivot = X_WN[:3, :3] @ task.pivot_m + X_WN[:3, 3]
    k, rows = len(axes), view.rows
    turn, shift = (np.array([getattr(own, name) for own in rows]) for name in ("turn", "shift"))
    points = np.array([own.point_m for own in rows])
    above = task.linkage.above[[task.linkage.places[goal.element] for goal in task.goals]]
    arms = (points[:, None] - centres)[:, :, None]
    # Rows of all goals (g, 3, u): turns of the joints, then of the whole, then its shifts.
    made_up = np.empty((len(rows), 3, 3 * k + 6))
    swung = _cross(axes, arms).reshape(len(rows), -1, 3)
    turned = turn @ axes.reshape(-1, 3).T + shift @ np.swapaxes(swung, 1, 2)
    made_up[:, :, : 3 * k] = np.where(np.repeat(above, 3, axis=1)[:, None], turned, 0.0)
    about = _cross(np.eye(3), (points - pivot)[:, None])
    made_up[:, :, 3 * k : 3 * k + 3] = turn + shift @ np.swapaxes(about, 1, 2)
    made_up[:, :, 3 * k + 3 :] = shift
    scale = np.repeat(_scale_rows(task, rows), 3)
    off = np.concatenate([_cap_miss(own, task.size_m) for own in rows])
    return _Step(off / scale, made_up.reshape(len(scale), -1) / scale[:, None], -view.away, view.ease)


def _cross(a: Array, b: Array) -> Array:
    """Cross products (..., 3): several times quicker than numpy's for small arrays."""
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    out[..., 0] = a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1]
    out[..., 1] = a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2]
    out[..., 2] = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return out


def _cap_miss(own: Off, size_m: float) -> Array:
    """What of a miss one step sets out to make up."""
    most = _MOST_MISS * (size_m if own.in_metres else RADIANS_A_SIZE)
    far = float(np.linalg.norm(own.left))
    return own.left if far <= most else own.left * (most / far)


def _find_way(task: Task, step: _Step, state: State, damping: float) -> Array:
    """(u,) the step that lessens the quadratic problem, its joints kept to the facets they would cross."""
    k = len(state.angles_rad)
    ease = step.ease.reshape(-1, 3)
    whole = np.zeros((k + 2, 3, 3))
    whole[:, range(3), range(3)] = ease**2 / (1 + damping)
    back = np.where(ease > 0, step.back.reshape(-1, 3), 0.0) / (1 + damping)
    blocks = np.swapaxes(step.made_up.reshape(len(step.off), -1, 3), 0, 1)
    held = _Facets(np.zeros(k, bool), np.zeros((k, 3)), np.zeros(k), np.zeros((k, 3), bool), np.zeros((k, 3)))
    base, spread = back, whole
    for passed in range(_PASSES):
        eased = np.swapaxes(blocks @ spread, 0, 1).reshape(len(step.off), -1)
        left = step.off - step.made_up @ base.ravel()
        pull = np.linalg.solve(eased @ step.made_up.T + np.eye(len(left)), left)
        way: Array = base.ravel() + pull @ eased
        if passed == _PASSES - 1 or not _find_crossed(task, state.angles_rad, way[: 3 * k].reshape(k, 3), held):
            break
        base, spread = back.copy(), whole.copy()
        rows = np.flatnonzero(held.crossed)
        _hold_facets(rows, held.normals[rows], held.offsets[rows], base, spread)
        for axis in np.flatnonzero(held.ended.any(axis=0)).tolist():
            rows = np.flatnonzero(held.ended[:, axis])
            _hold_facets(rows, np.tile(np.eye(3)[axis], (len(rows), 1)), held.ends[rows, axis], base, spread)
    return way


def _find_crossed(task: Task, angles: Array, way: Array, held: _Facets) -> bool:
    """Note the facets that a step crosses; whether there are any. Of an envelope the one facet that it last crossed."""
    trial, bounds = angles + way, task.bounds
    free = task.shares > 0
    boxed = np.clip(trial, bounds.low, bounds.high)
    out = (np.abs(boxed - trial) > task.active) & free[:, None]
    use, facing = measure_uses(bounds, trial)
    crossed = (use > 1 + task.active) & free
    held.crossed[crossed], held.normals[crossed] = True, facing[crossed]
    held.offsets[crossed] = (facing * way).sum(axis=1)[crossed] + 1 - use[crossed]
    held.ended[out] = True
    held.ends[out] = (boxed - angles)[out]
    return bool(out.any() or crossed.any())


def _hold_facets(rows: Rows, normals: Array, offsets: Array, base: Array, spread: Array) -> None:
    """Let joints step to a plane each and along it alone: a step times the normals (n, 3) is the offsets (n,)."""
    eased = np.einsum("nij,nj->ni", spread[rows], normals)
    stiff = (eased * normals).sum(axis=1)
    # Facets that a joint is held to already may leave it no way there.
    free = stiff > 1e-12 * (normals**2).sum(axis=1)
    rows, normals, offsets, eased, stiff = rows[free], normals[free], offsets[free], eased[free], stiff[free]
    base[rows] += eased * ((offsets - (normals * base[rows]).sum(axis=1)) / stiff)[:, None]
    spread[rows] -= eased[:, :, None] * eased[:, None, :] / stiff[:, None, None]


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
