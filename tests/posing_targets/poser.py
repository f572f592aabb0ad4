"""Poses the animal by operator calls until it looks like the target, of which it sees the silhouettes alone.

A plan is a list of calls as a user makes them: the whole shifted or pitched, a run of joints bent. Their arguments are
found by looking: all calls of the plan are tried together from neutral on and their arguments changed until it looks
right (Gauss-Newton on what the eye sees, damped). Where the picture is not right yet a stage cuts the runs of joints
shorter. What counts as calls is the plan, made once from neutral; looking is free.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from eye import Eye

from core_calcs.skeleton.element_names import name_partner
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.posing import Posing, bend_chain

GOAL = 0.03
_STEP, _ROUNDS, _TRIES = 0.002, 30, 6
LAST_RUNS = {"dorsal": 8, "cervical": 6, "caudal": 12}
_STAGES = (
    ({"dorsal": 1, "cervical": 1, "caudal": 1}, 0.4),
    ({"dorsal": 2, "cervical": 2, "caudal": 4}, 0.15),
    ({"dorsal": 4, "cervical": 4, "caudal": 8}, 0.08),
    (LAST_RUNS, 0.04),
)
"""Into how many runs the chains are cut, and how far off [m] what is farther pulls no harder than: 39 calls at last."""


@dataclass(frozen=True)
class Call:
    """One operator call: what is done, to what, with which arguments."""

    operator: str
    to: tuple[str, ...]
    arguments: tuple[float, ...]


@dataclass(frozen=True)
class Outcome:
    """What came of one target: the calls, the pose they make, the share of area that differs by view, looks."""

    calls: tuple[Call, ...]
    pose: Pose
    left: dict[str, float]
    looks: int


def make_calls(posing: Posing, calls: Sequence[Call]) -> Pose:
    """The pose that calls make, one after the other, from neutral."""
    pose = Pose("by eye")
    for call in calls:
        pose = _OPERATORS[call.operator](posing, pose, call.to, call.arguments)
    return pose


def _bend(posing: Posing, pose: Pose, to: Sequence[str], arguments: Sequence[float]) -> Pose:
    flexion, lateral = (*arguments, 0.0)[:2]
    return bend_chain(posing, pose, to, shares=(flexion, lateral, 0.0)).pose


def _shift(posing: Posing, pose: Pose, to: Sequence[str], arguments: Sequence[float]) -> Pose:
    X = pose.X_WN.copy()
    X[[0, 2], 3] += arguments
    return replace(pose, X_WN=X)


def _pitch(posing: Posing, pose: Pose, to: Sequence[str], arguments: Sequence[float]) -> Pose:
    c, s = np.cos(arguments[0]), np.sin(arguments[0])
    R = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    pivot = pose.X_WN[:3] @ np.append(posing.skeleton.root.solid.centre_m, 1.0)
    return replace(pose, X_WN=make_transform(R, pivot - R @ pivot) @ pose.X_WN)


_OPERATORS: dict[str, Callable[[Posing, Pose, Any, Any], Pose]] = {
    "bend_chain": _bend,
    "shift_whole": _shift,
    "pitch_whole": _pitch,
}


def plan_first(posing: Posing) -> list[Call]:
    """The whole, every chain in one run, skull and limbs; all arguments zero."""
    neck, trunk, tail = (posing.find_chain(name).children for name in ("neck", "trunk", "tail"))
    calls = [Call("shift_whole", (), (0.0, 0.0)), Call("pitch_whole", (), (0.0,))]
    calls += [Call("bend_chain", own, (0.0, 0.0)) for own in (trunk, neck[:-1], neck[-1:], tail)]
    for side in ("left", "right"):
        calls += [Call("bend_chain", (f"{bone} {side}",), (0.0, 0.0)) for bone in ("femur", "humerus")]
        calls += [Call("bend_chain", (f"{bone} {side}",), (0.0,)) for bone in ("tibia", "astragalus", "ulna")]
    return calls


def cut_runs(calls: Sequence[Call], runs: Mapping[str, int]) -> list[Call]:
    """The runs of every chain cut into as many as told by the first word of its joints' names, bent as they were."""
    cut: list[Call] = []
    for call in calls:
        own = [other for other in calls if len(other.to) > 1 and _name_chain(other) == _name_chain(call)]
        if call not in own:
            cut.append(call)
        elif call is own[0]:
            bent = {child: other.arguments for other in own for child in other.to}
            pieces = np.array_split(np.array(list(bent), object), runs[_name_chain(call)])
            cut += [Call("bend_chain", tuple(piece), bent[piece[len(piece) // 2]]) for piece in pieces]
    return cut


def _name_chain(call: Call) -> str:
    return call.to[0].partition(" ")[0] if call.to else ""


def pose_by_eye(posing: Posing, eye: Eye, tell: Callable[[str], None] = print) -> Outcome:
    """From neutral on, until every view is within the goal or no more calls are to be had."""
    calls = plan_first(posing)
    left: dict[str, float] = {}
    for stage, (runs, far) in enumerate(_STAGES):
        calls = cut_runs(calls, runs)
        calls = _tune(posing, calls, eye, far)
        if not stage:
            # From the side left looks like right: the other way round is tried as well, of legs and of arms.
            for bones in (("femur", "tibia", "astragalus"), ("humerus", "ulna")):
                other = _tune(posing, _exchange(calls, bones), eye, far)
                calls = min(calls, other, key=lambda own: _rate(posing, own, eye, far))
        calls = _tune(posing, calls, eye, far / 4)
        left = eye.measure(make_calls(posing, calls))
        told = ", ".join(f"{view} {share:.1%}" for view, share in left.items())
        tell(f"  stage {stage + 1}: {len(calls)} calls, {told}")
        if max(left.values()) < GOAL:
            break
    return Outcome(tuple(calls), make_calls(posing, calls), left, eye.looks)


def _exchange(calls: Sequence[Call], bones: Sequence[str]) -> list[Call]:
    """The calls with the arguments of left and right exchanged, of these bones."""
    arguments = {call.to: call.arguments for call in calls}
    return [
        replace(call, arguments=arguments[tuple(map(name_partner, call.to))])
        if call.to and call.to[0].partition(" ")[0] in bones
        else call
        for call in calls
    ]


def _rate(posing: Posing, calls: Sequence[Call], eye: Eye, far_m: float) -> float:
    away = _soften(eye.compare(make_calls(posing, calls)), far_m)
    return float(away @ away)


def _soften(away: np.ndarray, far_m: float) -> np.ndarray:
    """What is far off pulls no harder than what is `far_m` off (Huber)."""
    softened: np.ndarray = np.where(away > far_m, np.sqrt(np.maximum(2 * far_m * away - far_m**2, 0)), away)
    return softened


def _tune(posing: Posing, calls: Sequence[Call], eye: Eye, far_m: float) -> list[Call]:
    """The calls with arguments that look better; damped Gauss-Newton."""

    def look(x: np.ndarray) -> np.ndarray:
        return _soften(eye.compare(make_calls(posing, _fill(calls, x))), far_m)

    x = np.concatenate([call.arguments for call in calls])
    r, damping = look(x), 1e-2
    for _ in range(_ROUNDS):
        J = np.stack([(look(x + _STEP * e) - r) / _STEP for e in np.eye(len(x))], axis=1)
        A, g = J.T @ J, J.T @ r
        for _ in range(_TRIES):
            step = np.linalg.solve(A + damping * np.diag(np.diag(A) + 1e-3 * np.trace(A) / len(x)), -g)
            trial = x + np.clip(step, -0.3, 0.3)
            r_trial = look(trial)
            if r_trial @ r_trial < r @ r:
                break
            damping *= 6
        else:
            break
        gain = 1 - (r_trial @ r_trial) / (r @ r)
        x, r, damping = trial, r_trial, damping / 6
        if gain < 0.001:
            break
    return _fill(calls, x)


def _fill(calls: Sequence[Call], x: np.ndarray) -> list[Call]:
    """The calls with other arguments, (n,) one after the other."""
    ends = np.cumsum([len(call.arguments) for call in calls])[:-1]
    return [replace(call, arguments=tuple(own.tolist())) for call, own in zip(calls, np.split(x, ends), strict=True)]
