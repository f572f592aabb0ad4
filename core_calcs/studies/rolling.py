"""Feet that roll over their toes: the metatarsus lifts, the toes stay on the ground, every joint inside its range.

The metatarsus turns about the middle of the foremost toes' first joints, which keeps its place. Every toe turns back in
its own first joint, to the attitude nearest to the one it had; then its joints bring what bears to where it stood, as
far as they can with the toe left flat, and its lowest point to the height that it had. Toes point apart while the
metatarsus turns about one axis: so they slip and tip a little, and that is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..posing.goals import make_turn
from ..posing.posing import Posing
from ..site.site import Site
from ..skeleton.pose import Pose
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply
from .dragged_toes import PreparedToes, prepare_toes, set_toes
from .legs import Rolling, Toe, find_legs, find_own_leg, find_rolling
from .posing import TRIALS, AttitudeGoal, Goal, PlaceGoal, Reached, reach

ROUNDS = 8
"""So often a toe is set anew on the ground."""
DRAG_STEPS = 8
"""Steps tried to bring body and legs to their goals within a drag, which goes on from the call before."""
SEARCHES, NEARER = 5, 1e-4
"""So often the search goes on, as long as the first goal comes nearer by so much: out of reach it comes slowly."""
LEVEL_M = 1e-5
"""A toe this near its height is there."""
ABREAST = 0.25
"""First joints of toes lie abreast within this share of a toe's length."""


@dataclass(frozen=True, eq=False)
class Rolled:
    """A pose whose feet have rolled over their toes.

    found : as `reach` tells of body and legs, in the pose before the toes have turned back
    carriers, turns_rad : what has turned of each foot that may roll, and how far
    slips_m : how far at most what bears of a toe has moved
    off_m : how far at most the lowest point of a toe is from the height that it had
    """

    pose: Pose
    found: Reached
    carriers: tuple[str, ...]
    turns_rad: tuple[float, ...]
    slips_m: float
    off_m: float


@dataclass(frozen=True, eq=False)
class PreparedRoll:
    """What stays the same while feet roll: prepared once for a drag.

    start : the pose that it begins with, which turns and slips are counted from
    rolling : the feet that may roll; pivots : of each, what keeps its place while the carrier turns
    axis : (3,) what the one foot turns about that is rolled by an angle; None where the body is moved over all
    still : attitudes that are kept to as far as the goals let it
    legs : children of the joints that may turn; held : elements that stay; root : how readily the whole moves
    toes : of each foot that may roll
    """

    posing: Posing
    start: Pose
    rolling: tuple[Rolling, ...]
    pivots: tuple[PlaceGoal, ...]
    axis: Array | None
    still: tuple[AttitudeGoal, ...]
    legs: tuple[str, ...]
    held: tuple[str, ...]
    root: float
    toes: tuple[PreparedToes, ...]


def prepare_roll(
    posing: Posing, pose: Pose, site: Site, foot: str, standing: Sequence[str] | None = None
) -> PreparedRoll:
    """A foot made ready to roll over its toes by any angle; the leg gives way.

    Parameters
    ----------
    standing : feet that stay as they are while the body follows; None: the body stays where it is

    Raises
    ------
    SkeletonError : no foot of that name, none of its toes bears, none of their joints turns, or no chain carries it
    """
    rolling = find_rolling(posing, pose, site, foot)
    axis = _find_axis(posing, pose, rolling)
    others = [name for name in standing or () if name != foot]
    legs = find_own_leg(posing, foot) if standing is None else find_legs(posing, [foot, *others])[0]
    _, held = find_legs(posing, others)
    return _prepare(posing, pose, [rolling], axis, (), legs, held, float(standing is not None))


def prepare_under(posing: Posing, pose: Pose, site: Site, feet: Sequence[str]) -> PreparedRoll:
    """Feet made ready to stay on the ground by their toes while the body moves.

    Parameters
    ----------
    feet : those that stand in the pose, by name; one without toes that turn is held as it is

    Raises
    ------
    SkeletonError : a foot that no chain carries
    """
    rolling, firm = [], []
    for name in feet:
        try:
            rolling.append(find_rolling(posing, pose, site, name))
        except SkeletonError:
            firm.append(name)
    legs, _ = find_legs(posing, feet)
    _, held = find_legs(posing, firm)
    placed = posing.place(pose)
    still = [AttitudeGoal(own.carrier, placed[posing.index(own.carrier)][:3, :3]) for own in rolling]
    return _prepare(posing, pose, rolling, None, still, legs, held, 1.0)


def _prepare(
    posing: Posing,
    pose: Pose,
    rolling: Sequence[Rolling],
    axis: Array | None,
    still: Sequence[AttitudeGoal],
    legs: Sequence[str],
    held: Sequence[str],
    root: float,
) -> PreparedRoll:
    pivots = tuple(_find_pivot(posing, pose, own) for own in rolling)
    toes = tuple(prepare_toes(posing, pose, own) for own in rolling)
    return PreparedRoll(posing, pose, tuple(rolling), pivots, axis, tuple(still), tuple(legs), tuple(held), root, toes)


def roll_foot(ready: PreparedRoll, angle_rad: float, last: Pose | None = None) -> Rolled:
    """Roll a foot over its toes by an angle: > 0 lifts the heel and takes it forwards.

    The axis lies level, across the foot: as the first joints of its foremost toes flex, together.

    Parameters
    ----------
    ready : of `prepare_roll`
    last : within a drag, the pose that the call before returned: goes on from there in a few steps; None: searched to
        the end
    """
    assert ready.axis is not None
    carrier = ready.rolling[0].carrier
    R = ready.posing.place(ready.start)[ready.posing.index(carrier)][:3, :3]
    return _roll(ready, [AttitudeGoal(carrier, make_turn(angle_rad * ready.axis) @ R)], last)


def roll_under(ready: PreparedRoll, goals: Sequence[Goal], last: Pose | None = None) -> Rolled:
    """The body brought to its goals while feet stay on the ground by their toes; heels lift where the legs need it.

    ready : of `prepare_under`; last : as `roll_foot`

    Raises
    ------
    SkeletonError : as `reach`
    """
    return _roll(ready, goals, last)


def _roll(ready: PreparedRoll, goals: Sequence[Goal], last: Pose | None) -> Rolled:
    if last is not None:
        return _drag(ready, goals, last)
    posing, start = ready.posing, ready.start

    def search(pose: Pose, trials: int | None = None) -> Reached:
        held, root, pivots, still = ready.held, ready.root, ready.pivots, ready.still
        return reach(posing, pose, goals, ready.legs, held, root, start, trials=trials, pinned=pivots, leaned=still)

    found = search(start)
    for _ in range(SEARCHES):
        before = found
        found = search(found.pose, TRIALS)
        if float(before.misses[0] - found.misses[0]) < NEARER:
            break
    pose, slips, off = found.pose, [0.0], [0.0]
    for toe in (toe for own in ready.rolling for toe in own.toes):
        back = _write_toe(pose, start, toe)
        pose = _set_toe(posing, reach(posing, back, toe.flat[:1], [toe.base]).pose, toe)
        slip, high = _measure_toe(posing, pose, toe)
        slips.append(slip)
        off.append(abs(high))
    return _tell_rolled(ready, found, pose, max(slips), max(off))


def _drag(ready: PreparedRoll, goals: Sequence[Goal], last: Pose) -> Rolled:
    """A few steps on from the pose of the call before; the toes of each foot are set down together."""
    posing, start = ready.posing, ready.start
    # Only legs and body go on: toes begin anew, and what another way of holding the feet has turned goes back.
    legs = {child: last.angles_rad[child] for child in ready.legs if child in last.angles_rad}
    others = {child: own for child, own in start.angles_rad.items() if child not in ready.legs}
    begun = replace(start, angles_rad=others | legs, X_WN=last.X_WN if ready.root else start.X_WN)
    found = reach(
        posing,
        begun,
        goals,
        ready.legs,
        ready.held,
        ready.root,
        start,
        trials=DRAG_STEPS,
        pinned=ready.pivots,
        leaned=ready.still,
        live=True,
    )
    placed = posing.place(found.pose)
    pose, slips, off = found.pose, [0.0], [0.0]
    for own in ready.toes:
        pose, slip, high = set_toes(own, pose, placed)
        slips.append(slip)
        off.append(high)
    return _tell_rolled(ready, found, pose, max(slips), max(off))


def _tell_rolled(ready: PreparedRoll, found: Reached, pose: Pose, slips_m: float, off_m: float) -> Rolled:
    posing, carriers = ready.posing, tuple(own.carrier for own in ready.rolling)
    rows = [posing.index(own) for own in carriers]
    before, after = (posing.place(own)[rows][:, :3, :3] for own in (ready.start, pose))
    turns = tuple(_measure_turn(*pair) for pair in zip(before, after, strict=True))
    return Rolled(pose, found, carriers, turns, max(slips_m, found.slips_m), off_m)


def _write_toe(pose: Pose, start: Pose, toe: Toe) -> Pose:
    """The pose with a toe's joints as they began: a drag goes on from where it was left, toes from the start."""
    own = {child: start.angles_rad[child] for child in toe.joints if child in start.angles_rad}
    return replace(pose, angles_rad={k: v for k, v in pose.angles_rad.items() if k not in toe.joints} | own)


def _set_toe(posing: Posing, pose: Pose, toe: Toe) -> Pose:
    """What bears brought to where it stood by the toe's own joints, its lowest point to its height."""
    found, pin = pose, toe.pin
    for _ in range(ROUNDS):
        _, high = _measure_toe(posing, found, toe)
        if abs(high) < LEVEL_M and found is not pose:
            break
        pin = replace(pin, place_m=pin.place_m - [0, 0, high])
        found = reach(posing, found, [pin], toe.joints, start=pose, leaned=toe.flat).pose
    return found


def _measure_toe(posing: Posing, pose: Pose, toe: Toe) -> tuple[float, float]:
    """How far what bears is from where it stood, and how much higher than it was its lowest point is [m]."""
    skeleton, placed = posing.skeleton, posing.place(pose)
    at = apply(placed[posing.index(toe.pin.element)], toe.pin.point_m[None])[0]
    low = min(
        float(apply(placed[posing.index(own.element)], np.asarray(own.points_m, float).reshape(-1, 3))[:, 2].min())
        for foot in skeleton.feet
        for own in foot.contacts
        if own.element in toe.low
    )
    return float(np.linalg.norm(at - toe.pin.place_m)), low - toe.low_m


def _measure_turn(one: Array, other: Array) -> float:
    """Angle between two attitudes (3, 3)."""
    return float(np.arccos(np.clip((np.trace(one.T @ other) - 1) / 2, -1, 1)))


def _take_front(toes: Sequence[Toe]) -> list[Toe]:
    """Toes whose first joints lie abreast, foremost: over those the foot rolls; others lift with the metatarsus."""
    ways = np.array([toe.pin.place_m - toe.at_m for toe in toes])
    ahead = ways.mean(axis=0) * [1, 1, 0]
    ahead /= max(float(np.linalg.norm(ahead)), 1e-9)
    along = np.array([toe.at_m for toe in toes]) @ ahead
    room = ABREAST * np.median(np.linalg.norm(ways, axis=1))
    return [toe for toe, at in zip(toes, along.tolist(), strict=True) if at >= along.max() - room]


def _find_pivot(posing: Posing, pose: Pose, rolling: Rolling) -> PlaceGoal:
    """The middle of the foremost toes' first joints, as a point of the carrier that keeps its place."""
    at = np.mean([toe.at_m for toe in _take_front(rolling.toes)], axis=0)
    X_WE = posing.place(pose)[posing.index(rolling.carrier)]
    return PlaceGoal(rolling.carrier, (np.linalg.inv(X_WE) @ np.append(at, 1.0))[:3], at)


def _find_axis(posing: Posing, pose: Pose, rolling: Rolling) -> Array:
    """(3,) level and to the animal's left: a right-handed turn about it lifts the heel and takes it forwards."""
    skeleton, placed = posing.skeleton, posing.place(pose)
    left = placed[0][:3, :3] @ skeleton.root.X_WE[:3, :3].T @ [0.0, 1.0, 0.0]
    axis = np.zeros(3)
    for toe in _take_front(rolling.toes):
        joint = posing.find_joint(toe.base)
        row = posing.index(joint.parent)
        flexes = placed[row][:3, :3] @ skeleton.elements[row].X_WE[:3, :3].T @ joint.X_WJ[:3, 0]
        axis += flexes if flexes @ left > 0 else -flexes
    axis[2] = 0.0
    far = float(np.linalg.norm(axis))
    if far < 1e-6:
        raise SkeletonError(rolling.foot, "the joints of its toes do not flex across it", "turn them one by one")
    return axis / far
