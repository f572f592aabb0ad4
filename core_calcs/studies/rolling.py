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
from ..skeleton.kinematics import place_elements
from ..skeleton.pose import Pose
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply
from .legs import Rolling, Toe, find_legs, find_own_leg, find_rolling
from .posing import TRIALS, AttitudeGoal, Goal, PlaceGoal, Reached, reach

ROUNDS = 8
"""So often a toe is set anew on the ground; within a drag twice."""
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


def roll_foot(
    posing: Posing,
    pose: Pose,
    site: Site,
    foot: str,
    angle_rad: float,
    standing: Sequence[str] | None = None,
    live: bool = False,
) -> Rolled:
    """Roll a foot over its toes by an angle: > 0 lifts the heel and takes it forwards; the leg gives way.

    The axis lies level, across the foot: as the first joints of its foremost toes flex, together.

    Parameters
    ----------
    standing : feet that stay as they are while the body follows; None: the body stays where it is
    live : within a drag: toes are set down less often

    Raises
    ------
    SkeletonError : no foot of that name, none of its toes bears, none of their joints turns, or no chain carries it
    """
    rolling = find_rolling(posing, pose, site, foot)
    R = place_elements(posing.skeleton, pose)[posing.skeleton.index(rolling.carrier)][:3, :3]
    goal = AttitudeGoal(rolling.carrier, make_turn(angle_rad * _find_axis(posing, pose, rolling)) @ R)
    others = [name for name in standing or () if name != foot]
    legs = find_own_leg(posing, foot) if standing is None else find_legs(posing, [foot, *others])[0]
    _, held = find_legs(posing, others)
    return _roll(posing, pose, [goal], [rolling], legs, held, float(standing is not None), pose, (), live)


def roll_under(
    posing: Posing, pose: Pose, goals: Sequence[Goal], feet: Sequence[str], site: Site, start: Pose, live: bool = False
) -> Rolled:
    """The body brought to its goals while feet stay on the ground by their toes; heels lift where the legs need it.

    Parameters
    ----------
    feet : those that stand in `start`, by name; one without toes that turn is held as it is
    live : within a drag: fewer steps

    Raises
    ------
    SkeletonError : as `reach`; a foot that no chain carries
    """
    rolling, firm = [], []
    for name in feet:
        try:
            rolling.append(find_rolling(posing, start, site, name))
        except SkeletonError:
            firm.append(name)
    legs, _ = find_legs(posing, feet)
    _, held = find_legs(posing, firm)
    placed, index = place_elements(posing.skeleton, start), posing.skeleton.index
    still = [AttitudeGoal(own.carrier, placed[index(own.carrier)][:3, :3]) for own in rolling]
    return _roll(posing, pose, goals, rolling, legs, held, 1.0, start, still, live)


def _roll(
    posing: Posing,
    pose: Pose,
    goals: Sequence[Goal],
    rolling: Sequence[Rolling],
    legs: Sequence[str],
    held: Sequence[str],
    root: float,
    start: Pose,
    still: Sequence[Goal],
    live: bool,
) -> Rolled:
    pivots = [_find_pivot(posing, start, own) for own in rolling]
    found = reach(posing, pose, goals, legs, held, root, start, pinned=pivots, leaned=still, live=live)
    for _ in range(0 if live else SEARCHES):
        before = found
        found = reach(posing, found.pose, goals, legs, held, root, start, trials=TRIALS, pinned=pivots, leaned=still)
        if float(before.misses[0] - found.misses[0]) < NEARER:
            break
    pose, slips, off = found.pose, [found.slips_m], [0.0]
    for toe in (toe for own in rolling for toe in own.toes):
        back = _write_toe(pose, start, toe)
        pose = _set_toe(posing, reach(posing, back, toe.flat[:1], [toe.base]).pose, toe, 2 if live else ROUNDS)
        slip, high = _measure_toe(posing, pose, toe)
        slips.append(slip)
        off.append(abs(high))
    carriers = tuple(own.carrier for own in rolling)
    turns = tuple(_measure_turn(posing, start, pose, own) for own in carriers)
    return Rolled(pose, found, carriers, turns, max(slips), max(off))


def _write_toe(pose: Pose, start: Pose, toe: Toe) -> Pose:
    """The pose with a toe's joints as they began: a drag goes on from where it was left, toes from the start."""
    own = {child: start.angles_rad[child] for child in toe.joints if child in start.angles_rad}
    return replace(pose, angles_rad={k: v for k, v in pose.angles_rad.items() if k not in toe.joints} | own)


def _set_toe(posing: Posing, pose: Pose, toe: Toe, rounds: int) -> Pose:
    """What bears brought to where it stood by the toe's own joints, its lowest point to its height."""
    found, pin = pose, toe.pin
    for _ in range(rounds):
        _, high = _measure_toe(posing, found, toe)
        if abs(high) < LEVEL_M and found is not pose:
            break
        pin = replace(pin, place_m=pin.place_m - [0, 0, high])
        found = reach(posing, found, [pin], toe.joints, start=pose, leaned=toe.flat).pose
    return found


def _measure_toe(posing: Posing, pose: Pose, toe: Toe) -> tuple[float, float]:
    """How far what bears is from where it stood, and how much higher than it was its lowest point is [m]."""
    skeleton, placed = posing.skeleton, place_elements(posing.skeleton, pose)
    at = apply(placed[skeleton.index(toe.pin.element)], toe.pin.point_m[None])[0]
    low = min(
        float(apply(placed[skeleton.index(own.element)], np.asarray(own.points_m, float).reshape(-1, 3))[:, 2].min())
        for foot in skeleton.feet
        for own in foot.contacts
        if own.element in toe.low
    )
    return float(np.linalg.norm(at - toe.pin.place_m)), low - toe.low_m


def _measure_turn(posing: Posing, before: Pose, after: Pose, element: str) -> float:
    row = posing.skeleton.index(element)
    one, other = (place_elements(posing.skeleton, own)[row][:3, :3] for own in (before, after))
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
    X_WE = place_elements(posing.skeleton, pose)[posing.skeleton.index(rolling.carrier)]
    return PlaceGoal(rolling.carrier, (np.linalg.inv(X_WE) @ np.append(at, 1.0))[:3], at)


def _find_axis(posing: Posing, pose: Pose, rolling: Rolling) -> Array:
    """(3,) level and to the animal's left: a right-handed turn about it lifts the heel and takes it forwards."""
    skeleton, placed = posing.skeleton, place_elements(posing.skeleton, pose)
    left = placed[0][:3, :3] @ skeleton.root.X_WE[:3, :3].T @ [0.0, 1.0, 0.0]
    axis = np.zeros(3)
    for toe in _take_front(rolling.toes):
        joint = skeleton.joint_of(toe.base)
        row = skeleton.index(joint.parent)
        flexes = placed[row][:3, :3] @ skeleton.elements[row].X_WE[:3, :3].T @ joint.X_WJ[:3, 0]
        axis += flexes if flexes @ left > 0 else -flexes
    axis[2] = 0.0
    far = float(np.linalg.norm(axis))
    if far < 1e-6:
        raise SkeletonError(rolling.foot, "the joints of its toes do not flex across it", "turn them one by one")
    return axis / far
