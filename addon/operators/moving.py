"""The body moved and turned while the feet stay where they stand."""

from __future__ import annotations

from dataclasses import replace

import bpy
import numpy as np
from mathutils import Euler, Matrix

from ..bridge.frames import Array, scene_scale, to_array
from ..bridge.joint_text import word_angle
from ..bridge.posing_text import THERE_M, word_limits, word_rolled, word_slip
from ..bridge.rig_in_hand import RigInHand, place_of
from ..bridge.units import Units, scene_units, word_length
from ..bridge.view_plane import looks_along, to_scene_plane, to_screen, turn_about
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.studies.legs import find_legs
from ..core_calcs.studies.posing import AttitudeGoal, Goal, PlaceGoal, Reached, find_turn, make_turn, reach
from ..core_calcs.studies.rolling import Rolled, prepare_under, roll_under
from ..translations.phrases import say
from .posing_tool import FINE, Posed, PosingTool, mouse_of
from .reaching import list_held, search_on
from .step import AS_GIVEN

MOST_TILT_RAD = 0.35
"""So far (20 degrees) the body that is only moved may tilt for the limbs to follow. Common practice, no source."""
ROLLED_RAD = 1.7e-3
"""Feet that turn by less than a tenth of a degree have not rolled."""


class COUNTERPOISE_OT_move_body(PosingTool, bpy.types.Operator):
    """Move or turn the whole body while the feet that stand on the ground stay there"""

    bl_idname = "counterpoise.move_body"
    bl_label = "Move Body"
    bl_options = {"REGISTER", "UNDO", "BLOCKING"}  # noqa: RUF012  Blender wants a plain set

    keys = (
        "Click: done    Esc: as it was    G: move, R: turn    X, Y, Z: along or about one axis    H: hold the feet    "
        "T: roll over the toes    Shift: fine"
    )

    offset: bpy.props.FloatVectorProperty(
        name="Move", description="By how much, in the scene", subtype="TRANSLATION", options=AS_GIVEN
    )
    turn: bpy.props.FloatVectorProperty(
        name="Turn", description="About the scene's axes, through the root's centre", subtype="EULER", options=AS_GIVEN
    )
    hold_feet: bpy.props.BoolProperty(
        name="Hold the Feet", description="The feet that stand on the ground stay there", default=True
    )
    roll_feet: bpy.props.BoolProperty(
        name="Roll over the Toes",
        description="Feet that are held may lift their heels where the legs need it; the toes stay on the ground",
        options=AS_GIVEN,
    )

    def solve(self, _context: bpy.types.Context, hand: RigInHand) -> Posed:
        units, unit_m = scene_units(hand.scene), scene_scale(hand.scene)
        wanted = move_whole(
            hand.begun, find_root(hand, hand.begun), np.array(self.offset) * unit_m, Euler(self.turn).to_matrix()
        )
        held = list_held(hand) if self.hold_feet else []
        name = hand.kept.document.skeleton.root.name
        if not held:
            line = self.word(np.linalg.norm(self.offset) * unit_m, units, find_tilt(hand, hand.begun, wanted))
            return Posed(wanted, (), (name, line), "holds", f"{name}: {line}")
        rolled = roll_over(hand, wanted, held, any(self.turn), self.live) if self.roll_feet else None
        found = keep_feet(hand, wanted, held, any(self.turn), self.live) if rolled is None else rolled.found
        pose = found.pose if rolled is None else rolled.pose
        gone = find_root(hand, pose) - find_root(hand, hand.begun)
        lines = [self.word(np.linalg.norm(gone), units, find_tilt(hand, hand.begun, pose))]
        if (short := float(found.misses[0])) > THERE_M:
            lines.append(say("{distance} short: the feet let it go no farther", distance=word_length(short, units)))
        lines += word_slip(found, units)
        limits = word_limits(hand.kept.posing, pose, found.at_limit) if len(lines) > 1 else ()
        state = "close" if len(lines) > 1 else "holds"
        if rolled is not None and max(rolled.turns_rad, default=0.0) > ROLLED_RAD:
            lines.append(say("feet roll by {angle}", angle=word_angle(max(rolled.turns_rad))))
            lines += word_rolled(rolled, units)
        told = f"{name}: {'; '.join(lines)}"
        return Posed(pose, (), (name, *lines, *limits), state, told)

    def word(self, gone_m: float, units: Units, turned: Array) -> str:
        """How far it has gone and turned, what it has tilted by itself included."""
        far, turn = word_length(float(gone_m), units), word_angle(float(np.linalg.norm(turned)))
        return say("moved {distance}, turned {angle}", distance=far, angle=turn)

    def grasp(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        root = hand.kept.document.skeleton.root
        self.middle = place_of(hand, root.name, root.solid.centre_m)
        self.turning, self.along = False, -1
        self.aim(event)

    def aim(self, event: bpy.types.Event) -> None:
        """Begin anew from the move and turn that it has."""
        self.mouse = mouse_of(event)
        self.offset_begun, self.turn_begun = np.array(self.offset), Euler(self.turn).to_matrix()
        self.moved, self.turned = np.zeros(3), 0.0

    def drag(self, context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> None:
        mouse, share = mouse_of(event), FINE if event.shift else 1.0
        at = self.middle + np.array(self.offset)
        if self.turning:
            self.turn_by(context, at, mouse, share)
        else:
            begin, end = (to_scene_plane(context, tuple(own), at) for own in (self.mouse, mouse))
            self.moved = self.moved + share * (end - begin)
            step = self.moved if self.along < 0 else self.moved * np.eye(3)[self.along]
            self.offset = self.offset_begun + step
        self.mouse = mouse

    def turn_by(self, context: bpy.types.Context, at: Array, mouse: np.ndarray, share: float) -> None:
        """By what the mouse has gone round the body's middle: about the view's line of sight, or the axis chosen."""
        middle, sight = to_screen(context, at), looks_along(context, at)
        if middle is None:
            return
        axis = -sight if self.along < 0 else np.eye(3)[self.along]
        sense = -1.0 if axis @ sight > 0 else 1.0
        self.turned += share * sense * turn_about(middle, self.mouse, mouse)
        self.turn = (Matrix.Rotation(self.turned, 3, axis.tolist()) @ self.turn_begun).to_euler()

    def press(self, _context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> bool:
        if event.type in ("G", "R"):
            self.turning, self.along = event.type == "R", -1
            self.aim(event)
        elif event.type in ("X", "Y", "Z"):
            self.offset, self.turn = self.offset_begun, self.turn_begun.to_euler()
            self.along = "XYZ".index(event.type)
            self.aim(event)
        elif event.type == "H":
            self.hold_feet = not self.hold_feet
        elif event.type == "T":
            self.roll_feet = not self.roll_feet
        else:
            return False
        return True


def find_root(hand: RigInHand, pose: Pose) -> Array:
    """(3,) the root's centre in a pose, in the world [m]."""
    root = hand.kept.document.skeleton.root
    centre = root.X_WE @ np.append(root.solid.centre_m, 1.0)
    return np.asarray(pose.X_WN @ centre)[:3]


def find_tilt(hand: RigInHand, before: Pose, after: Pose) -> Array:
    """(3,) the rotation vector by which the root stands otherwise after than before [rad]."""
    R = hand.kept.document.skeleton.root.X_WE[:3, :3]
    return find_turn((after.X_WN[:3, :3] @ R) @ (before.X_WN[:3, :3] @ R).T)


def move_whole(pose: Pose, middle_m: Array, offset_m: Array, turn: Matrix) -> Pose:
    """The pose with the whole turned about a point (3,) and moved by an offset (3,)."""
    motion = np.eye(4)
    motion[:3, :3] = to_array(turn)
    motion[:3, 3] = middle_m + offset_m - motion[:3, :3] @ middle_m
    return replace(pose, X_WN=motion @ pose.X_WN)


def keep_feet(hand: RigInHand, wanted: Pose, feet: list[str], turned: bool, live: bool) -> Reached:
    """The root brought to where it is wanted, by the limbs, while feet stay where they stand.

    turned : whether it is to be turned as well; where it is only moved it may tilt as the limbs need it, by no more
        than MOST_TILT_RAD or thereabouts: a place out of reach would turn it over
    """
    goals = list_goals(hand, wanted, turned)
    legs, held = find_legs(hand.kept.posing, feet)

    def search(pose: Pose) -> Reached:
        return reach(hand.kept.posing, pose, goals, legs, held, 1.0, hand.begun, live=live)

    found = search_on(hand.begun, search, live)  # from where the search has rested before it would not move on
    cap = cap_tilt(hand, wanted, found.pose, turned)
    goals += cap
    return search_on(hand.begun, search, live) if cap else found


def roll_over(hand: RigInHand, wanted: Pose, feet: list[str], turned: bool, live: bool) -> Rolled:
    """The same, but feet may roll over their toes."""
    goals, made_for = list_goals(hand, wanted, turned), ("body", *feet)
    if made_for not in hand.rolls:
        hand.rolls[made_for] = prepare_under(hand.kept.posing, hand.begun, hand.kept.document.site, feet)
    ready = hand.rolls[made_for]
    found = roll_under(ready, goals, hand.pose if live else None)
    cap = cap_tilt(hand, wanted, found.pose, turned)
    goals += cap
    return roll_under(ready, goals, found.pose if live else None) if cap else found


def list_goals(hand: RigInHand, wanted: Pose, turned: bool) -> list[Goal]:
    """What is asked of the root; turned : its attitude as well."""
    root = hand.kept.document.skeleton.root
    placed = wanted.X_WN @ root.X_WE
    goals: list[Goal] = [
        PlaceGoal(root.name, root.solid.centre_m, placed[:3, :3] @ root.solid.centre_m + placed[:3, 3])
    ]
    if turned:
        goals.append(AttitudeGoal(root.name, placed[:3, :3]))
    return goals


def cap_tilt(hand: RigInHand, wanted: Pose, found: Pose, turned: bool) -> list[Goal]:
    """What is asked besides where a body that was only to move has tilted too far; nothing where it has not."""
    tilt = find_tilt(hand, wanted, found)
    if turned or (angle := float(np.linalg.norm(tilt))) <= MOST_TILT_RAD:
        return []
    root = hand.kept.document.skeleton.root
    placed = wanted.X_WN @ root.X_WE
    return [AttitudeGoal(root.name, make_turn(tilt * (MOST_TILT_RAD / angle)) @ placed[:3, :3])]


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_OT_move_body,))
