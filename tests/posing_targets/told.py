"""How near the calls themselves can come: their arguments read from the hidden pose, which the poser is not told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from poser import LAST_RUNS, Call, cut_runs, plan_first

from core_calcs.skeleton.pose import Pose
from core_calcs.studies.posing import Posing


def read_calls(posing: Posing, target: Pose) -> list[Call]:
    """The poser's last plan, every run bent by the mean of its joints' shares in the target."""
    return [replace(call, arguments=_read(posing, target, call)) for call in cut_runs(plan_first(posing), LAST_RUNS)]


def _read(posing: Posing, target: Pose, call: Call) -> tuple[float, ...]:
    X, pivot = target.X_WN, posing.skeleton.root.solid.centre_m
    if call.operator == "pitch_whole":
        return (float(np.arctan2(X[0, 2], X[0, 0])),)
    if call.operator == "shift_whole":
        shift = X[:3, :3] @ pivot + X[:3, 3] - pivot
        return float(shift[0]), float(shift[2])
    shares = [[_share(posing, target, child, axis) for axis in range(2)] for child in call.to]
    return tuple(np.mean(shares, axis=0)[: len(call.arguments)].tolist())


def _share(posing: Posing, target: Pose, child: str, axis: int) -> float:
    angle = float(target.angles_rad.get(child, np.zeros(3))[axis])
    limit = posing.skeleton.joint_of(child).limits[axis]
    return angle / abs((limit.high if angle > 0 else limit.low).angle_rad) if angle else 0.0
