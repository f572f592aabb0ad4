"""How near the calls themselves can come: their arguments read from the hidden pose, which the poser is not told."""

from __future__ import annotations

import numpy as np
from plan import Call, Plan

from core_calcs.skeleton.pose import Pose


def read_calls(plan: Plan, target: Pose) -> list[Call]:
    """The plan's calls, every run bent by the mean of its joints' shares in the target."""
    x, X = np.zeros(plan.size), target.X_WN
    pivot = plan.posing.skeleton.root.solid.centre_m
    x[:3] = X[:3, :3] @ pivot + X[:3, 3] - pivot
    x[4] = np.arctan2(X[0, 2], X[0, 0])
    for run, start in zip(plan.runs, plan.starts.tolist(), strict=False):
        for axis in range(run.axes):
            x[start + axis] = np.mean([_share(plan, target, child, axis) for child in run.children])
    return plan.list_calls(x)


def _share(plan: Plan, target: Pose, child: str, axis: int) -> float:
    angle = float(target.angles_rad.get(child, np.zeros(3))[axis])
    limit = plan.posing.skeleton.joint_of(child).limits[axis]
    return angle / abs((limit.high if angle > 0 else limit.low).angle_rad) if angle else 0.0
