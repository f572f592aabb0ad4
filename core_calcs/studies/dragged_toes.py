"""The toes of a foot set down together while the mouse moves: a few steps for all of them, from the toes laid flat.

At rest each toe is set down alone and to the end (`rolling`); what a drag shows is within some millimetres of that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..posing.bounds import pull_inside
from ..posing.goals import Goal
from ..posing.linkage import Linkage, link_elements, move_linkage, read_angles
from ..posing.posing import Posing, list_turning, write_joints
from ..posing.reaching import State, Task, solve_task
from ..skeleton.pose import Pose
from ..spatial.rotations import joint_angles
from ..spatial.transforms import Array
from .legs import Rolling, Toe
from .posing import LEAN_WEIGHT

ROUNDS, STEPS = 4, 2
"""So often at most all toes are set anew at their heights, and steps tried each time."""
LEVEL_M = 1e-4
"""Toes this near their heights are there, within a drag."""


@dataclass(frozen=True, eq=False)
class PreparedToes:
    """The toes of a foot from their carrier on.

    carrier : its index in the skeleton; X_EW : (4, 4) the world of the neutral articulation to its frame
    task : to be solved, the carrier as the root of its linkage; its first goals are the toes' pins, in their order
    begun : (k, 3) angles of the linkage's joints in the pose that the roll begins with
    children : of the joints that turn, and which of the linkage's they are (c,)
    bases, flat : of each toe the mover of its first joint (t,), and the turn of that from the neutral articulation
        (t, 3, 3) with which the toe lies as it did
    points_m : (p, 3) what of the toes may touch the ground, world of the neutral articulation; movers : (p,) what each
        rides on; firsts : (t,) the first of each toe's
    lows_m : (t,) height of each toe's lowest point as it was
    """

    toes: tuple[Toe, ...]
    carrier: int
    X_EW: Array
    task: Task
    begun: Array
    children: tuple[str, ...]
    turning: NDArray[np.int64]
    bases: NDArray[np.int64]
    flat: Array
    points_m: Array
    movers: NDArray[np.int64]
    firsts: NDArray[np.int64]
    lows_m: Array


def prepare_toes(posing: Posing, pose: Pose, rolling: Rolling) -> PreparedToes:
    """The toes of a foot, made ready for a drag that begins with a pose."""
    toes, skeleton = rolling.toes, posing.skeleton
    pins = [toe.pin for toe in toes]
    # Of a toe's attitudes the first and that of what bears: those between follow.
    lean = [goal for toe in toes for goal in toe.flat if goal.element in (toe.base, toe.pin.element)]
    goals: list[Goal] = [*pins, *lean]
    linkage = _cut_linkage(
        posing, rolling.carrier, [*(goal.element for goal in goals), *(e for t in toes for e in t.low)]
    )
    children = list_turning(posing, [child for toe in toes for child in toe.joints])
    place = {row: k for k, row in enumerate(linkage.joints.tolist())}
    turning = np.array([place[posing.rows[child]] for child in children], np.int64)
    shares = np.zeros(len(linkage.joints))
    shares[turning] = 1.0
    X_WE = posing.X_WE[[posing.index(goal.element) for goal in goals]]
    task = Task(
        linkage=linkage,
        bounds=posing.bounds.take(linkage.joints),
        shares=shares,
        goals=goals,
        weights=[1.0] * len(pins) + [LEAN_WEIGHT] * len(lean),
        elements=X_WE,
        root=0.0,
        pivot_m=np.zeros(3),
        size_m=posing.size_m,
    )
    points, movers, firsts = _list_points(posing, linkage, toes)
    bases = np.array([place[posing.rows[toe.base]] for toe in toes], np.int64)
    flat = np.stack([toe.flat[0].R_WE @ posing.X_WE[posing.index(toe.base)][:3, :3].T for toe in toes])
    lows = np.array([toe.low_m for toe in toes])
    begun = read_angles(linkage, skeleton, pose)
    begun[0] = 0.0
    at = posing.index(rolling.carrier)
    X_EW = np.linalg.inv(posing.X_WE[at])
    return PreparedToes(toes, at, X_EW, task, begun, children, turning, bases, flat, points, movers, firsts, lows)


def _cut_linkage(posing: Posing, carrier: str, elements: list[str]) -> Linkage:
    """What carries these elements from a carrier on, which is the root of it."""
    whole = link_elements(posing.skeleton, posing.movers, [carrier, *elements])
    first = whole.places[carrier]
    rows = np.flatnonzero(whole.above[:, first])
    place = {row: k for k, row in enumerate(rows.tolist())}
    return Linkage(
        joints=np.concatenate([[-1], whole.joints[rows[1:]]]),
        parents=[-1, *(place[whole.parents[row]] for row in rows[1:].tolist())],
        X_WJ=whole.X_WJ[rows],
        X_JW=whole.X_JW[rows],
        senses=whole.senses[rows],
        places={name: place[row] for name, row in whole.places.items() if row in place},
        above=whole.above[np.ix_(rows, rows)],
    )


def _list_points(
    posing: Posing, linkage: Linkage, toes: tuple[Toe, ...]
) -> tuple[Array, NDArray[np.int64], NDArray[np.int64]]:
    contacts = {own.element: own.points_m for foot in posing.skeleton.feet for own in foot.contacts}
    points: list[Array] = []
    movers: list[int] = []
    firsts: list[int] = []
    for toe in toes:
        firsts.append(sum(len(own) for own in points))
        for element in toe.low:
            X = posing.X_WE[posing.index(element)]
            points.append(np.asarray(contacts[element], float).reshape(-1, 3) @ X[:3, :3].T + X[:3, 3])
            movers += [linkage.places[element]] * len(points[-1])
    return np.concatenate(points), np.array(movers, np.int64), np.array(firsts, np.int64)


def set_toes(ready: PreparedToes, pose: Pose, placed: Array) -> tuple[Pose, float, float]:
    """The pose with the toes of a foot on the ground, their carrier where it is.

    Parameters
    ----------
    placed : (n, 4, 4) X_WE of every element in the pose

    Returns
    -------
    The pose; how far at most what bears of a toe has moved, and how far a toe's lowest point is off its height [m]
    """
    task = ready.task
    X = placed[ready.carrier] @ ready.X_EW
    start = State(_lay_flat(ready, X), X)
    now = replace(start)  # not the same: nothing is bowed
    pins = [toe.pin for toe in ready.toes]
    for done in range(ROUNDS):
        high = _find_lows(ready, now) - ready.lows_m
        if done and np.abs(high).max() < LEVEL_M:
            break
        pins = [replace(pin, place_m=pin.place_m - [0, 0, rise]) for pin, rise in zip(pins, high.tolist(), strict=True)]
        now = solve_task(replace(task, goals=[*pins, *task.goals[len(pins) :]]), start, now, STEPS)
    off = float(np.abs(_find_lows(ready, now) - ready.lows_m).max())
    return write_joints(pose, ready.children, now.angles_rad[ready.turning]), _find_slips(ready, now), off


def _lay_flat(ready: PreparedToes, X: Array) -> Array:
    """(k, 3) angles at which toes lie as they did, by their first joints alone, as far as these reach."""
    linkage = ready.task.linkage
    motions = move_linkage(linkage, ready.begun, X)
    parents = [linkage.parents[base] for base in ready.bases.tolist()]
    R_WJ = linkage.X_WJ[ready.bases][:, :3, :3]
    back = np.swapaxes(motions[parents][:, :3, :3], 1, 2) @ ready.flat
    angles = ready.begun.copy()
    angles[ready.bases] = joint_angles(np.swapaxes(R_WJ, 1, 2) @ back @ R_WJ, linkage.senses[ready.bases])
    turning = (ready.task.shares > 0)[:, None]
    return np.where(turning, pull_inside(ready.task.bounds, angles), ready.begun)


def _find_lows(ready: PreparedToes, state: State) -> Array:
    """(t,) height of each toe's lowest point."""
    motions = move_linkage(ready.task.linkage, state.angles_rad, state.X_WN)[ready.movers, 2]
    heights = (motions[:, :3] * ready.points_m).sum(axis=1) + motions[:, 3]
    lows: Array = np.minimum.reduceat(heights, ready.firsts)
    return lows


def _find_slips(ready: PreparedToes, state: State) -> float:
    """How far at most what bears of a toe is from where it stood."""
    motions = move_linkage(ready.task.linkage, state.angles_rad, state.X_WN)
    worst = 0.0
    for toe, X_WE in zip(ready.toes, ready.task.elements, strict=False):
        X = motions[ready.task.linkage.places[toe.pin.element]] @ X_WE
        worst = max(worst, float(np.linalg.norm(X[:3, :3] @ toe.pin.point_m + X[:3, 3] - toe.pin.place_m)))
    return worst
