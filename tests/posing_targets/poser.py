"""Poses the animal by operator calls until it looks like the target, of which it sees the silhouettes alone.

All calls of the plan are tried together from neutral on and their arguments changed until it looks right; looking is
free, what counts as calls is the plan, made once from neutral. From a coarse look with stiff chains to a fine one with
limp ones. It begins in four ways, for a whole that turns at once turns after a bent tail, and limbs that swing at once
after each other; between, limbs are begun again from many random attitudes. Where that does not do, all is begun again
with more of them, tail and neck too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from eye import Cloud, Eye, Pictures
from plan import Call, Plan, make_calls
from restarts import begin_again
from tuning import tune

from core_calcs.skeleton.pose import Pose

GOAL = 0.03
COARSE, FINE, FINEST = (3000, 1500), (20000, 8000), (80000, 20000)
"""Points of the animal and places of each picture that are looked at."""
FIRST = ((0.4, 0.05), (0.2, 0.02))
LIMBS = ("leg left", "leg right", "arm left", "arm right")
BEGINNINGS = ((), ("sideways",), LIMBS, ("sideways", *LIMBS))
"""What stays at neutral until the first looks are done; the beginning that then looks best is gone on with."""
MIDDLE = ((0.1, 0.005), (0.05, 0.002))
LAST = ((FINE, 0.03, 0.001), (FINE, 0.015, 0.0005), (FINEST, 0.01, 0.0002))
"""What is farther off [m] pulls no harder, and how stiff chains are, one after the other."""
THROWS, ROUNDS = 300, 3
"""Random attitudes of each limb in the first round, in the next twice as many, thrice."""

Measure = Callable[[Pose], dict[str, float]]


@dataclass(frozen=True)
class Outcome:
    """What came of one target: the calls, the pose they make, the share of area that differs by view, looks, rounds."""

    calls: tuple[Call, ...]
    pose: Pose
    left: dict[str, float]
    looks: int
    rounds: int


def pose_by_eye(plan: Plan, cloud: Cloud, pictures: Pictures, measure: Measure) -> Outcome:
    """The best of up to `ROUNDS` rounds; one that is within the goal is the last.

    measure : of a pose, by view the share of area that differs
    """
    eyes = {size: Eye(cloud, pictures, *size) for size in (COARSE, FINE, FINEST)}
    outcomes = []
    for k in range(1, ROUNDS + 1):
        calls = plan.list_calls(_go_round(plan, eyes, k))
        pose = make_calls(plan.posing, calls)
        outcomes.append(Outcome(tuple(calls), pose, measure(pose), sum(eye.looks for eye in eyes.values()), k))
        if max(outcomes[-1].left.values()) <= GOAL:
            break
    best = min(outcomes, key=lambda own: max(own.left.values()))
    return Outcome(best.calls, best.pose, best.left, outcomes[-1].looks, outcomes[-1].rounds)


def _go_round(plan: Plan, eyes: dict[tuple[int, int], Eye], k: int) -> np.ndarray:
    """Arguments (n,) found from neutral, the k-th time."""
    rng, eye = np.random.default_rng(k), eyes[COARSE]
    x, _ = min((_begin(plan, eye, still) for still in BEGINNINGS), key=lambda own: own[1])
    for part in ("tail", "neck") if k > 1 else ():
        x = begin_again(plan, eye, x, (part,), *FIRST[-1], rng, k * THROWS)
    for far_m, stiff in MIDDLE:
        x, _ = tune(plan, eye, x, far_m, stiff)
        for limb in ("leg", "arm"):
            x = begin_again(plan, eye, x, (f"{limb} left", f"{limb} right"), far_m, stiff, rng, k * THROWS)
    for size, far_m, stiff in LAST:
        x, _ = tune(plan, eyes[size], x, far_m, stiff)
    return x


def _begin(plan: Plan, eye: Eye, still: Sequence[str]) -> tuple[np.ndarray, float]:
    """Arguments (n,) from neutral, these parts not moved at first, and what is still off."""
    x = np.zeros(plan.size)
    free = np.setdiff1d(np.arange(plan.size), plan.list_arguments(*still))
    for far_m, stiff in FIRST:
        x, _ = tune(plan, eye, x, far_m, stiff, free=free)
    return tune(plan, eye, x, *MIDDLE[0])
