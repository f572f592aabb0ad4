"""What a posing tool says: angles, where a joint stops and why, in words."""

from __future__ import annotations

from collections.abc import Sequence

import bpy
import numpy as np

from ..core_calcs.skeleton.joint import AXES, Joint
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.studies.checks import ANGLE_ROUNDING_RAD, ONLY_TOGETHER
from ..core_calcs.studies.held_turn import HeldTurn
from ..core_calcs.studies.planting import Planted
from ..core_calcs.studies.posing import Posing, Reached
from ..core_calcs.studies.posing_edits import JointChange
from ..core_calcs.studies.rolling import Rolled
from ..core_calcs.studies.stops import use_axes
from ..translations.phrases import look_up, say, tell
from .figures import drawn_joints
from .joint_text import REASONS, word_angle, word_inside, word_stop
from .rig_in_hand import active_element, angles_of
from .units import Units, word_length, write_out

TOGETHER = "stops: the axes allow no more together"
NO_LIMITS = "its limits are not known: nothing holds it"
THERE_M, THERE_RAD = 1e-3, float(np.radians(0.1))
"""This near it is there."""

SLIP_M = 1e-4
"""What was held and has moved by less has not slipped."""

TIPPED_RAD = float(np.radians(0.5))
"""A foot that has tipped by less is told to have kept its attitude."""

MOST_TOLD = 6
"""So many joints are told by name."""

HELD = "{axis} does not turn in this joint"


def word_turn(joint: Joint, turn: HeldTurn, axis: str, also: Sequence[str] = ()) -> tuple[tuple[str, ...], str]:
    """A joint that is turned about one axis: name, angle and, at a limit or beyond, why; and its state.

    also : axes about which it was turned before
    """
    own = turn.axes[AXES.index(axis)]
    turns = [f"{tell(name)} {word_angle(turn.axes[AXES.index(name)].angle_rad)}" for name in (axis, *also)]
    head = (joint.child, ", ".join(turns))
    if own.limit is None:
        return (*head, look_up(NO_LIMITS)), "not known"
    if turn.held and own.limit.low.angle_rad == own.limit.high.angle_rad:
        return (*head, say(HELD, axis=tell(axis))), "close"
    if own.state == "fails":
        return (*head, word_stop(own)), "fails"
    if turn.inside_rad is not None and turn.inside_rad < -ANGLE_ROUNDING_RAD:
        return (*head, f"{word_inside(turn.inside_rad)}: {tell(ONLY_TOGETHER)}"), "fails"
    if own.reached is not None:
        return (*head, word_stop(own)), "close"
    return ((*head, look_up(TOGETHER)), "close") if turn.held else (head, "holds")


def word_bend(name: str, turned_rad: np.ndarray) -> tuple[str, str]:
    """Name of a chain, and by how much it was bent in all."""
    parts = [
        f"{tell(axis)} {word_angle(float(turn))}"
        for axis, turn in zip(AXES, turned_rad, strict=True)
        if abs(turn) > 1e-6
    ]
    return name, ", ".join(parts) or say("as it was")


def word_limits(posing: Posing, pose: Pose, at_limit: Sequence[str]) -> tuple[str, ...]:
    """Where the first of the joints that stand at their limits stops and why, and how many more do; empty of none."""
    if not at_limit:
        return ()
    joint = posing.skeleton.joint_of(at_limit[0])
    reached = [own for own in use_axes(joint, angles_of(pose, joint.child)) if own.reached is not None]
    first = f"{joint.child}: {word_stop(reached[0]) if reached else look_up(TOGETHER)}"
    more = len(at_limit) - 1
    if not more:
        return (first,)
    one, many = say("and 1 more at its limit"), say("and {count} more at their limits", count=more)
    return first, many if more > 1 else one


def is_there(found: Reached) -> bool:
    """Whether it has reached its goal."""
    return float(found.misses[0]) < THERE_M


def word_reach(found: Reached, units: Units) -> str:
    """How near it came."""
    if is_there(found):
        return say("there")
    return say("{distance} short of it", distance=word_length(float(found.misses[0]), units))


def looks_there(found: Reached) -> bool:
    """Whether it looks at its goal."""
    return float(found.misses[0]) < THERE_RAD


def word_look(found: Reached) -> str:
    """How nearly it looks there."""
    missed = float(found.misses[0])
    return say("looks at it") if looks_there(found) else say("{angle} off", angle=word_angle(missed))


def word_slip(found: Reached, units: Units) -> tuple[str, ...]:
    """That what was held has slipped; empty where it has not."""
    if found.slips_m < SLIP_M:
        return ()
    distance = f"{write_out(found.slips_m / units.length.size, 2)} {units.length.name}"
    return (say("feet slip by {distance}", distance=distance),)


def word_rolled(rolled: Rolled, units: Units) -> tuple[str, ...]:
    """How far toes have slipped along the ground and come off their height; empty where they have not."""
    told = []
    if rolled.slips_m > THERE_M:
        told.append(say("toes slip by {distance}", distance=word_length(rolled.slips_m, units)))
    if rolled.off_m > THERE_M:
        told.append(say("toes {distance} off their height", distance=word_length(rolled.off_m, units)))
    return tuple(told)


def word_planted(planted: Sequence[Planted], units: Units) -> str:
    """How feet have come to the ground, and which have not."""
    told = []
    for own in planted:
        gone, left = (word_length(abs(length), units) for length in (own.moved_m, own.off_m))
        if own.off_m > THERE_M:
            told.append(
                say("{foot} {distance} above the ground: its leg goes no farther", foot=tell(own.foot), distance=left)
            )
        elif own.off_m < -THERE_M:
            told.append(
                say("{foot} {distance} below the ground: its leg goes no farther", foot=tell(own.foot), distance=left)
            )
        elif own.moved_m > THERE_M:
            told.append(say("{foot} up by {distance}", foot=tell(own.foot), distance=gone))
        elif own.moved_m < -THERE_M:
            told.append(say("{foot} down by {distance}", foot=tell(own.foot), distance=gone))
        else:
            continue
        if own.turned_rad > TIPPED_RAD:
            told[-1] += say(", tipped by {angle}", angle=word_angle(own.turned_rad))
    return "; ".join(told) or say("Every foot is on its ground")


def word_changes(changes: Sequence[JointChange]) -> str:
    """What was brought into its range, by how much and why, the greatest changes first."""
    if not changes:
        return say("Every joint is inside its range: nothing has changed")
    order = sorted(changes, key=lambda change: -change.by_rad)
    told = "; ".join(_word_change(change) for change in order[:MOST_TOLD])
    more = len(order) - MOST_TOLD
    if more > 0:
        return say("Brought inside: {joints}; and {count} more", joints=told, count=more)
    return say("Brought inside: {joints}", joints=told)


def _word_change(change: JointChange) -> str:
    held = change.held
    reason = tell(ONLY_TOGETHER)
    if not held.together and held.stop is not None:
        reason = f"{tell(held.axis)}: {tell(REASONS[held.stop.reason])}"
    return say("{joint} by {angle} ({reason})", joint=change.child, angle=word_angle(change.by_rad), reason=reason)


def name_in_hand(context: bpy.types.Context) -> str:
    """The active bone and the chain that it belongs to, for the panel."""
    kept, _ = drawn_joints(context.scene)
    element = active_element(context)
    if kept is None or not element:
        return say("No bone of the rig is active")
    chain = kept.chains.get(element)
    return element if chain is None else f"{element}, {tell(chain)}"
