"""Feet set down each on its own ground, and a foot rolled over its toes."""

from __future__ import annotations

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.joint_text import word_angle
from ..bridge.kept_document import keep_document
from ..bridge.posing_text import word_limits, word_planted, word_rolled
from ..bridge.rig_in_hand import RigInHand, active_element
from ..bridge.units import scene_units
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.legs import list_above
from ..core_calcs.studies.planting import plant_feet
from ..core_calcs.studies.rolling import prepare_roll, roll_foot
from ..translations.phrases import say, tell
from .posing import pose_rig
from .posing_tool import FINE, Posed, PosingTool, mouse_of
from .step import AS_GIVEN, NeedsRig, Step

ACROSS_RAD = 1.5707963267948966
"""The mouse across half the view turns it by so much."""
ENOUGH_RAD = 1.7e-3
"""What is short by less than a tenth of a degree is there."""


class COUNTERPOISE_OT_plant_feet(NeedsRig, Step, bpy.types.Operator):
    """Bring every foot that bears straight to the ground under it; the legs bend, the body stays"""

    bl_idname = "counterpoise.plant_feet"
    bl_label = "Feet to the Ground"

    foot: bpy.props.StringProperty(
        name="Foot", description="The foot to set down; empty: all limbs' feet that bear", options=AS_GIVEN
    )

    def work(self, context: bpy.types.Context) -> str:
        kept = keep_document(context.scene)
        live = read_scene_pose(context, kept)
        pose, planted = plant_feet(kept.posing, live, kept.document.site, [self.foot] if self.foot else ())
        pose_rig(context, pose)
        return word_planted(planted, scene_units(context.scene))


class COUNTERPOISE_OT_roll_foot(PosingTool, bpy.types.Operator):
    """Roll a foot over its toes: the heel lifts, the toes stay on the ground, the leg gives way"""

    bl_idname = "counterpoise.roll_foot"
    bl_label = "Roll Foot"
    bl_options = {"REGISTER", "UNDO", "BLOCKING"}  # noqa: RUF012  Blender wants a plain set

    keys = "Click: done    Esc: as it was    Number: degrees    B: the body follows    Shift: fine"
    takes_numbers = True

    foot: bpy.props.StringProperty(
        name="Foot", description="The foot to roll; empty: that of the active bone", options=AS_GIVEN
    )
    angle: bpy.props.FloatProperty(
        name="Angle",
        description="How far the heel lifts; below zero it sinks",
        subtype="ANGLE",
        min=-ACROSS_RAD,
        max=ACROSS_RAD,
        options=AS_GIVEN,
    )
    body_follows: bpy.props.BoolProperty(
        name="Body Follows",
        description="The body goes with it, and the other feet stay where they stand; else the body stays",
        options=AS_GIVEN,
    )

    def solve(self, context: bpy.types.Context, hand: RigInHand) -> Posed:
        self.foot = self.foot or find_foot(hand, active_element(context))
        posing, units = hand.kept.posing, scene_units(hand.scene)
        standing = hand.standing if self.body_follows else None
        made_for = ("foot", self.foot, *(standing or ("body stays",)))
        if made_for not in hand.rolls:
            hand.rolls[made_for] = prepare_roll(posing, hand.begun, hand.kept.document.site, self.foot, standing)
        rolled = roll_foot(hand.rolls[made_for], self.angle, hand.pose if self.live else None)
        short = float(rolled.found.misses[0])
        lines = [say("rolled by {angle}", angle=word_angle(rolled.turns_rad[0]))]
        if short > ENOUGH_RAD:
            lines.append(say("{angle} short: the leg lets it roll no farther", angle=word_angle(short)))
        lines += word_rolled(rolled, units)
        limits = word_limits(posing, rolled.pose, rolled.found.at_limit) if short > ENOUGH_RAD else ()
        foot = tell(self.foot)
        told = f"{foot}: {'; '.join(lines)}"
        state = "close" if short > ENOUGH_RAD else "holds"
        return Posed(rolled.pose, (rolled.carriers[0],), (foot, *lines, *limits), state, told)

    def grasp(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        self.foot = self.foot or find_foot(hand, active_element(context))
        self.angle, self.mouse = 0.0, mouse_of(event)

    def drag(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        mouse = mouse_of(event)
        step = float(mouse[0] - self.mouse[0]) / (0.5 * context.region.width)
        self.angle += ACROSS_RAD * step * (FINE if event.shift else 1.0)
        self.mouse = mouse

    def take_number(self, _hand: RigInHand, value: float) -> None:
        self.angle = value

    def press(self, _context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> bool:
        if event.type != "B":
            return False
        self.body_follows = not self.body_follows
        return True


def find_foot(hand: RigInHand, element: str) -> str:
    """The foot that an element belongs to or carries.

    Raises
    ------
    SkeletonError : no element, none or several of the feet
    """
    posing = hand.kept.posing
    every = posing.skeleton.feet
    found = [foot.name for foot in every if any(element in list_above(posing, own.element) for own in foot.contacts)]
    if len(found) != 1:
        known = ", ".join(foot.name for foot in every) or "none"
        raise SkeletonError("foot", "none is in hand", f"make a bone of its leg active, or name one of these: {known}")
    return found[0]


CLASSES = (COUNTERPOISE_OT_plant_feet, COUNTERPOISE_OT_roll_foot)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
