"""What a posing tool says: angles, where a joint stops and why, in words."""

from __future__ import annotations

from ..core_calcs.skeleton.joint import AXES, Joint
from ..core_calcs.studies.checks import ANGLE_ROUNDING_RAD, ONLY_TOGETHER
from ..core_calcs.studies.held_turn import HeldTurn
from .joint_text import word_angle, word_inside, word_stop

TOGETHER = "stops: the axes allow no more together"
NO_LIMITS = "its limits are not known: nothing holds it"
HELD = "{axis} does not turn in this joint"


def word_turn(joint: Joint, turn: HeldTurn, axis: str) -> tuple[tuple[str, ...], str]:
    """A joint that is turned about one axis: name, angle and, at a limit or beyond, why; and its state."""
    own = turn.axes[AXES.index(axis)]
    head = (joint.child, f"{axis} {word_angle(own.angle_rad)}")
    if own.limit is None:
        return (*head, NO_LIMITS), "not known"
    if turn.held and own.limit.low.angle_rad == own.limit.high.angle_rad:
        return (*head, HELD.format(axis=axis)), "close"
    if own.state == "fails":
        return (*head, word_stop(own)), "fails"
    if turn.inside_rad is not None and turn.inside_rad < -ANGLE_ROUNDING_RAD:
        return (*head, f"{word_inside(turn.inside_rad)}: {ONLY_TOGETHER}"), "fails"
    if own.reached is not None:
        return (*head, word_stop(own)), "close"
    return ((*head, TOGETHER), "close") if turn.held else (head, "holds")
