"""The arguments of a plan tuned until it looks better: damped Gauss-Newton on what the eye sees."""

from __future__ import annotations

import numpy as np
from eye import Eye, Seen
from plan import WHOLE, Plan

_TRIES, _STEP, _DONE = 6, 0.3, 0.002
"""Trials of a round; no argument changes more in one; a round that gains less than this share is the last."""


def tune(
    plan: Plan, eye: Eye, x: np.ndarray, far_m: float, stiff: float, rounds: int = 30, free: np.ndarray | None = None
) -> tuple[np.ndarray, float]:
    """The arguments (n,) that look best from these on, and what is still off.

    Parameters
    ----------
    far_m : what is farther off pulls no harder (Huber)
    stiff : how much even bends are wanted; see `make_stiffness`
    free : places of the arguments that may change; all by default
    """
    S = make_stiffness(plan, stiff)
    may = np.ones(plan.size, bool) if free is None else np.isin(np.arange(plan.size), free)
    now, damping = _Look(plan, eye, x), 1e-2
    cost = now.rate(far_m, S)
    for _ in range(rounds):
        A, g = now.linearise(far_m, S)
        x = now.x
        act = np.flatnonzero(may & ~((x <= -plan.ends) & (g > 0)) & ~((x >= plan.ends) & (g < 0)))
        heights = np.diag(A) + 1e-3 * np.trace(A) / plan.size
        for _ in range(_TRIES):
            step = np.zeros(plan.size)
            step[act] = np.linalg.solve((A + damping * np.diag(heights))[np.ix_(act, act)], -g[act])
            trial = _Look(plan, eye, np.clip(x + np.clip(step, -_STEP, _STEP), -plan.ends, plan.ends))
            cost_trial = trial.rate(far_m, S)
            if cost_trial < cost:
                break
            damping *= 6
        else:
            break
        gain, now, cost, damping = 1 - cost_trial / cost, trial, cost_trial, max(damping / 6, 1e-6)
        if gain < _DONE:
            break
    return now.x, cost


def soften(off_m: np.ndarray, far_m: float) -> np.ndarray:
    """Squares of what is off; what is farther than `far_m` pulls no harder than what is that far (Huber)."""
    softened: np.ndarray = np.where(off_m > far_m, 2 * far_m * off_m - far_m**2, off_m**2)
    return softened


def make_stiffness(plan: Plan, stiff: float) -> np.ndarray:
    """(n, n) a form in the arguments: chains rather bend evenly along them, and what need not turn rather does not."""
    rows = []
    for part, runs in plan.parts.items():
        size = stiff / 2 / (np.sqrt(len(runs)) if len(runs) > 3 else 3.0)
        rows += [size * np.eye(plan.size)[place] for place in plan.list_arguments(part)]
        if len(runs) <= 3:
            continue
        for axis in range(2):
            at = plan.starts[list(runs)] + axis
            for k in range(1, len(runs) - 1):
                row = np.zeros(plan.size)
                row[at[k - 1 : k + 2]] = np.array((-1.0, 2.0, -1.0)) * stiff * len(runs) / 8
                rows.append(row)
    rows += [stiff / 10 * np.eye(plan.size)[place] for place in range(WHOLE)]
    S: np.ndarray = np.array(rows).T @ np.array(rows)
    return S


class _Look:
    """The animal posed with arguments (n,), and what is off."""

    def __init__(self, plan: Plan, eye: Eye, x: np.ndarray) -> None:
        self.plan, self.eye, self.x = plan, eye, x
        self.angles, self.motions = plan.move(x)
        self.world = eye.cloud.move(self.motions)
        self.seen: Seen = eye.compare(self.world)

    def rate(self, far_m: float, S: np.ndarray) -> float:
        return float(self.seen.weights @ soften(self.seen.off_m, far_m) + self.x @ S @ self.x)

    def linearise(self, far_m: float, S: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(n, n) curvature and (n,) half the slope of what is off."""
        seen, twists = self.seen, self.plan.find_twists(self.x, self.angles, self.motions)
        places = self.world[seen.rows]
        pull = np.concatenate([np.cross(places, seen.ways), seen.ways], axis=1)
        weights = seen.weights * np.minimum(1, far_m / np.maximum(seen.off_m, 1e-12))
        A, g = S.copy(), S @ self.x
        mover = self.eye.cloud.mover[seen.rows]
        for own in np.unique(mover):
            rows = np.flatnonzero(mover == own)
            # Of one mover all pulls act on one and the same six numbers of its twist.
            weighted = pull[rows] * weights[rows, None]
            A += twists[own] @ (weighted.T @ pull[rows]) @ twists[own].T
            g += twists[own] @ (weighted.T @ seen.off_m[rows])
        return A, g
