"""Whether a rig's bones rest where the document has its joints: bones can be edited, poses and transforms applied."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.rigging import RigPlan
from ..translations.phrases import list_few
from .frames import Array

PLACE_SHARE = 1e-4
"""Share of the skeleton's size that a bone may rest off its joint: single precision holds a hundredth of that."""

TURN = 5e-3
"""How far a rest frame's axes may be off: single precision leaves up to 8e-4, of bones near Blender's own pole."""

FEW = 3
"""So many elements are named."""


def refuse_moved(rig_name: str, plan: RigPlan, rests: Array) -> None:
    """Raise SkeletonError where bones do not rest as planned; rests : (m, 4, 4) of every bone of the plan [m]."""
    moved = find_moved(plan, np.arange(len(plan.bones)), rests)
    if not moved.any():
        return
    names = [plan.bones[row].element for row in np.flatnonzero(moved)]
    few = list_few(names, FEW)
    what = f"its bones do not rest in the joints of {few}: they were edited, or a pose or transform was applied to them"
    raise SkeletonError(rig_name, what, "undo that, or build the rig again, which keeps the pose")


def find_moved(plan: RigPlan, rows: Array, rests: Array) -> Array:
    """(k,) whether each of these rows' bones rests elsewhere than planned; rests : (k, 4, 4) in the rig's space [m]."""
    off = np.abs(rests - _planned(plan)[rows])
    places, turns = off[:, :3, 3].max(axis=1), off[:, :3, :3].max(axis=(1, 2))
    return (places > PLACE_SHARE * plan.size_m) | (turns > TURN)


def read_as_seen(plan: RigPlan, rows: Array, rests: Array, motions: Array, read: Callable[[Array], Pose]) -> Pose:
    """The pose of a rig whose bones rest elsewhere than planned.

    As it is seen in the view, where that is a pose of the skeleton: a pose or a transform was applied. Else every bone
    keeps the turn that it has from its own rest.

    rests, motions : (k, 4, 4) of these rows [m]; read : makes a pose of the motions of these rows
    """
    planned = _planned(plan)[rows]
    try:
        return read(motions @ rests @ np.linalg.inv(planned))
    except SkeletonError:
        return read(_turn_in_joints(plan, rows, planned, rests, motions))


def _turn_in_joints(plan: RigPlan, rows: Array, planned: Array, rests: Array, motions: Array) -> Array:
    at = {int(row): i for i, row in enumerate(rows)}
    found = motions.copy()
    for i, row in enumerate(rows):
        parent = plan.bones[row].parent
        if parent < 0:
            continue
        turn = np.eye(4)
        own = np.linalg.inv(rests[i]) @ np.linalg.inv(motions[at[parent]]) @ motions[i] @ rests[i]
        turn[:3, :3] = own[:3, :3]
        found[i] = found[at[parent]] @ planned[i] @ turn @ np.linalg.inv(planned[i])
    return found


@lru_cache(maxsize=8)
def _planned(plan: RigPlan) -> Array:
    """(m, 4, 4) rest frames as planned [m]."""
    return np.stack([np.asarray(bone.X_WB, float) for bone in plan.bones])
