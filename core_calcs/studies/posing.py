"""Posing as an artist does it: joints held in their ranges, chains bent, elements brought to places, the head turned.

`prepare_posing` once for a skeleton; every function then takes a pose and returns another, and leaves what it was given
as it is. Joints whose limits are not known are turned only where that is asked for (`unknown=True`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..posing.attitudes import Held as Held
from ..posing.attitudes import hold_attitude
from ..posing.bending import Bent as Bent
from ..posing.bending import bend_by_angles, bend_by_shares, weigh_along
from ..posing.bounds import lie_within
from ..posing.goals import AttitudeGoal as AttitudeGoal
from ..posing.goals import Goal as Goal
from ..posing.goals import LookGoal as LookGoal
from ..posing.goals import PlaceGoal as PlaceGoal
from ..posing.goals import find_turn as find_turn
from ..posing.goals import make_turn as make_turn
from ..posing.holding import Kept, hold_elements, list_held, measure_slip
from ..posing.linkage import Linkage, link_elements, move_linkage, read_angles
from ..posing.posing import Chain as Chain
from ..posing.posing import Posing as Posing
from ..posing.posing import find_ends, list_turning, make_posing, read_joints, write_joints
from ..posing.posing import take_part as take_part
from ..posing.reaching import HELD_WEIGHT, State, Task, measure_misses, put_back_held, solve_task
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply
from .beams import list_beam_joints

TRIALS, DRAG_TRIALS = 40, 5
"""Steps that one call tries; the second within a drag, which goes on from where the call before has left it."""
PUT_BACK, DRAG_PUT_BACK = 200, 10
"""Steps tried to bring what is held back to its place, likewise."""
LEAN_WEIGHT = 0.01
"""What is kept to as far as the goals let it counts so little beside a goal."""
AT_LIMIT_RAD = float(np.radians(0.1))
"""A joint that would leave its range within this is told to be at its limit."""


@dataclass(frozen=True, eq=False)
class Reached:
    """A pose brought to goals.

    misses : (g,) how far each goal is missed, in their order: metres of a place, radians of an attitude or direction
    slips_m, slips_rad : how far what was held has moved at most, its centres and what of it may touch the ground, and
        turned
    at_limit : children of the joints that stand at the end of their range
    """

    pose: Pose
    misses: Array
    slips_m: float
    slips_rad: float
    at_limit: tuple[str, ...]


def prepare_posing(skeleton: Skeleton) -> Posing:
    """Find the chains and make the ranges ready."""
    joints = {joint.child: joint for joint in skeleton.joints}
    chains: list[Chain] = []
    for kind, children in list_beam_joints(skeleton):
        own = [joints[child] for child in children]
        several = f"{children[0]} to {children[-1]}" if len(children) > 1 else children[0]
        name = several if kind == "limb" else kind
        chains.append(Chain(name, kind, children, *find_ends(own)))
    return make_posing(skeleton, chains)


def hold_joint(posing: Posing, child: str, angles_rad: ArrayLike) -> Held:
    """The nearest attitude that a joint's limits and envelope together allow, and what stops it there.

    Raises
    ------
    SkeletonError : the child has no joint
    """
    return hold_attitude(posing.skeleton.joints[posing.find_row(child)], np.asarray(angles_rad, float))


def bend_chain(
    posing: Posing,
    pose: Pose,
    chain: str | Sequence[str],
    shares: ArrayLike | None = None,
    total_rad: ArrayLike | None = None,
    fall_off: float = 0.0,
    unknown: bool = False,
) -> Bent:
    """Bend a chain farther than it is in the pose, every joint held inside its range.

    Parameters
    ----------
    chain : name of a chain, or children of joints from the base to the tip
    shares : (3,) flexion, lateral, axial, -1 to 1: each joint turns by that share of its own range on that side
    total_rad : (3,) instead: by how much the joints' angles are to grow in all
    fall_off : -1 to 1; see `posing.bending.weigh_along`

    Raises
    ------
    SkeletonError : no chain or joint of that name; both or neither of shares and total_rad; a pose as mounted
    """
    if (shares is None) == (total_rad is None):
        raise SkeletonError("bend", "either shares or angles are wanted", "give one of the two")
    own = list_turning(posing, list_chain_joints(posing, chain), unknown)
    weights = weigh_along(len(own), fall_off)
    if shares is not None:
        return bend_by_shares(posing, pose, own, shares, weights)
    assert total_rad is not None
    return bend_by_angles(posing, pose, own, total_rad, weights)


def reach(
    posing: Posing,
    pose: Pose,
    goals: Sequence[Goal],
    turning: str | Iterable[str],
    held: Iterable[str] = (),
    root: float = 0.0,
    start: Pose | None = None,
    fall_off: float = 0.0,
    unknown: bool = False,
    trials: int | None = None,
    places: Pose | None = None,
    pinned: Sequence[PlaceGoal] = (),
    leaned: Sequence[Goal] = (),
    live: bool = False,
) -> Reached:
    """Bring elements to their goals by turning joints, every joint inside its range.

    Parameters
    ----------
    pose : where to go on from: during a drag the pose that the call before returned
    turning : name of a chain, or children of the joints that may turn
    held : elements, or feet by their names, that keep the place and attitude they have in `places`
    root : how readily the whole moves: 0 not at all, 1 as readily as joints turn
    start : the pose that turns are counted from, so that a drag out and back ends where it began; `pose` by default
    trials : how many steps to try; `TRIALS` or `DRAG_TRIALS` by default
    places : the pose that tells where the held elements belong; `start` by default
    pinned : points that are held in their places as firmly as `held`, while their elements may turn about them
    leaned : what is kept to as far as the goals let it (`LEAN_WEIGHT`); not among the misses
    live : in a drag, where another call follows: what is held may slip by some millimetres meanwhile

    Raises
    ------
    SkeletonError : a name that is not there, a goal on what goes with two elements, a pose as mounted, no goal
    """
    if not goals:
        raise SkeletonError("reach", "there is nothing to reach", "give at least one goal")
    start = pose if start is None else start
    children = list_turning(posing, list_chain_joints(posing, turning), unknown)
    keep = list_held(posing, held)
    own = [*goals, *leaned, *pinned]
    linkage = link_elements(posing.skeleton, posing.movers, [*(goal.element for goal in own), *keep])
    begun = _read_state(posing, linkage, start)
    kept = hold_elements(posing, linkage, begun if places is None else _read_state(posing, linkage, places), keep)
    both = [one for pair in kept for one in pair]
    held_goals = len(pinned) + len(both)
    weights = [1.0] * len(goals) + [LEAN_WEIGHT] * len(leaned) + [HELD_WEIGHT] * held_goals
    task = _make_task(posing, linkage, [*own, *both], weights, children, root, fall_off)
    now = begun if pose is start else _read_state(posing, linkage, pose)
    state = solve_task(task, begun, now, trials or (TRIALS if now is begun else DRAG_TRIALS))
    if held_goals:
        state = put_back_held(task, held_goals, state, DRAG_PUT_BACK if live else PUT_BACK)
    return _tell_reached(posing, pose, task, state, len(goals), kept, len(pinned))


def bend_to(
    posing: Posing,
    pose: Pose,
    chain: str,
    place_m: ArrayLike,
    point_m: ArrayLike | None = None,
    fall_off: float = 0.0,
    start: Pose | None = None,
    unknown: bool = False,
) -> Reached:
    """Bend a whole chain so that a point of its last element comes to a place in the world.

    point_m : (3,) in that element's frame E; its centre by default
    """
    own = posing.find_chain(chain)
    element = posing.skeleton.elements[posing.skeleton.index(own.tip)]
    point = element.solid.centre_m if point_m is None else np.asarray(point_m, float)
    goal = PlaceGoal(own.tip, point, np.asarray(place_m, float))
    return reach(posing, pose, [goal], chain, start=start, fall_off=fall_off, unknown=unknown)


def look_at(
    posing: Posing,
    pose: Pose,
    place_m: ArrayLike,
    element: str | None = None,
    turning: str | Iterable[str] | None = None,
    start: Pose | None = None,
    unknown: bool = False,
) -> Reached:
    """Turn an element, the tip of the neck by default, so that it looks at a place in the world.

    Forwards is where the body's x axis, towards the head, points in the neutral articulation: an element looks along it
    there, from its centre.
    """
    neck = next((chain for chain in posing.chains if chain.kind == "neck"), None)
    if neck is None and (element is None or turning is None):
        raise SkeletonError(posing.skeleton.name, "it has no neck", "name the element that looks and what may turn")
    name = neck.tip if element is None and neck is not None else str(element)
    own = posing.skeleton.elements[posing.skeleton.index(name)]
    goal = LookGoal(name, own.solid.centre_m, own.X_WE[:3, :3].T @ [1.0, 0.0, 0.0], np.asarray(place_m, float))
    chain = turning if turning is not None else neck.children if neck is not None else ()
    return reach(posing, pose, [goal], chain, start=start, unknown=unknown)


def list_chain_joints(posing: Posing, chain: str | Iterable[str]) -> tuple[str, ...]:
    """Children of a chain's joints, by its name, or as they are given; SkeletonError of an unknown chain."""
    return posing.find_chain(chain).children if isinstance(chain, str) else tuple(chain)


def _read_state(posing: Posing, linkage: Linkage, pose: Pose) -> State:
    read_joints(posing, pose, ())
    return State(read_angles(linkage, posing.skeleton, pose), pose.X_WN)


def _make_task(
    posing: Posing,
    linkage: Linkage,
    goals: Sequence[Goal],
    weights: Sequence[float],
    children: Sequence[str],
    root: float,
    fall_off: float,
) -> Task:
    weigh = dict(zip([posing.rows[child] for child in children], weigh_along(len(children), fall_off), strict=True))
    X_WE = [posing.skeleton.elements[posing.skeleton.index(goal.element)].X_WE for goal in goals]
    base = posing.skeleton.root
    return Task(
        linkage=linkage,
        bounds=posing.bounds.take(linkage.joints),
        shares=np.array([weigh.get(i, 0.0) if i >= 0 else 0.0 for i in linkage.joints.tolist()]),
        goals=goals,
        weights=weights,
        elements=np.stack(X_WE),
        root=root,
        pivot_m=apply(base.X_WE, base.solid.centre_m[None])[0],
        size_m=posing.size_m,
    )


def _tell_reached(
    posing: Posing, pose: Pose, task: Task, state: State, asked: int, kept: Sequence[Kept], pinned: int
) -> Reached:
    motions = move_linkage(task.linkage, state.angles_rad, state.X_WN)
    misses, firm = measure_misses(task, motions), len(task.goals) - 2 * len(kept)
    turned = np.flatnonzero(task.shares > 0)
    children = [posing.skeleton.joints[i].child for i in task.linkage.joints[turned].tolist()]
    angles = state.angles_rad[turned]
    # A joint is at its limit where a little more of the same turn would take it out.
    sizes = np.linalg.norm(angles, axis=1, keepdims=True)
    farther = angles * (1 + np.divide(AT_LIMIT_RAD, sizes, out=np.zeros_like(sizes), where=sizes > AT_LIMIT_RAD))
    stopped = ~lie_within(task.bounds.take(turned), farther, AT_LIMIT_RAD / 10)
    return Reached(
        pose=write_joints(pose, children, angles, state.X_WN if task.root else None),
        misses=misses[:asked],
        slips_m=float(misses[firm - pinned : firm].max(initial=measure_slip(posing, task.linkage, motions, kept))),
        slips_rad=float(misses[firm + 1 :: 2].max(initial=0.0)),
        at_limit=tuple(np.array(children, object)[stopped].tolist()),
    )
