"""A chain bent at once, whole or in part: neck, trunk, tail or limb, shared out by what each joint can take."""

from __future__ import annotations

import math

import bpy
import numpy as np

from ..bridge.contacts import chosen_bones
from ..bridge.posing_text import word_bend, word_limits
from ..bridge.rig_in_hand import RigInHand, active_element, pick_chain, place_of, put_back, show_pose, tip_point
from ..bridge.view_plane import to_screen
from ..core_calcs.studies.posing import Chain, bend_chain, take_part
from ..translations.catalogues import CORE
from ..translations.phrases import say
from .posing_tool import FINE, Posed, PosingTool, mouse_of
from .step import AS_GIVEN
from .turning import ANGLE, AXIS_KEYS

TRIAL_RAD = 0.05
"""The chain is bent by so much to see which way its tip goes."""

RAD_PER_PX = math.radians(0.25)
"""Of an axis that the view does not show: so much for a pixel to the right."""

LEAST = 0.15
"""An axis that moves the tip by less than this share of what the view shows best is hidden from it."""

FALL_OFF_STEP = 0.1

AXES = ("FLEXION", "LATERAL", "AXIAL")


class COUNTERPOISE_OT_bend_chain(PosingTool, bpy.types.Operator):
    """Bend the neck, trunk, tail or limb of the active bone, or the selected part, by what each joint can take"""

    bl_idname = "counterpoise.bend_chain"
    bl_label = "Bend Chain"
    bl_options = {"REGISTER", "UNDO", "BLOCKING"}  # noqa: RUF012  Blender wants a plain set

    keys = (
        "Click: done    Esc: as it was    X flexion, Z lateral, Y axial alone    Wheel: falloff    Shift: fine    "
        "0-9: angle"
    )
    takes_numbers = True

    chain: bpy.props.StringProperty(
        name="Chain",
        translation_context=CORE,
        description="neck, trunk, tail or a limb; empty: the one of the active bone",
        options=AS_GIVEN,
    )
    first: bpy.props.StringProperty(
        name="From", description="Element whose joint is the first to bend; empty: the chain's first", options=AS_GIVEN
    )
    last: bpy.props.StringProperty(
        name="To", description="Element whose joint is the last to bend; empty: the chain's last", options=AS_GIVEN
    )
    flexion: bpy.props.FloatProperty(name="Flexion", description="By how much it bends in all", **ANGLE)
    lateral: bpy.props.FloatProperty(name="Lateral", description="By how much it bends in all", **ANGLE)
    axial: bpy.props.FloatProperty(name="Axial", description="By how much it turns in all", **ANGLE)
    fall_off: bpy.props.FloatProperty(
        name="Falloff",
        description="0: shared out by range alone; above zero less towards the tip, below zero less towards the base",
        min=-1.0,
        max=1.0,
        options=AS_GIVEN,
    )
    unknown: bpy.props.BoolProperty(
        name="Unknown Limits", description="Turn joints as well whose limits are not known", options=AS_GIVEN
    )

    def solve(self, _context: bpy.types.Context, hand: RigInHand) -> Posed:
        own = self.find_chain(hand)
        total = (self.flexion, self.lateral, self.axial)
        posing = hand.kept.posing
        bent = bend_chain(posing, hand.begun, own.children, None, total, self.fall_off, self.unknown)
        name, angles = word_bend(own.name, bent.turned_rad)
        limits = word_limits(posing, bent.pose, bent.at_limit)
        fall_off = (say("falloff {figure}", figure=f"{self.fall_off:+.1f}"),) if self.fall_off else ()
        told = "; ".join((f"{name}: {angles}", *limits))
        return Posed(bent.pose, own.children, (name, angles, *fall_off, *limits), "close" if limits else "holds", told)

    def find_chain(self, hand: RigInHand) -> Chain:
        """The chain that is bent, or the part of it; SkeletonError where there is none."""
        own = pick_chain(hand, self.chain, "" if self.chain else active_element(bpy.context))
        return take_part(hand.kept.posing, own, self.first, self.last)

    def grasp(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        whole = pick_chain(hand, self.chain, "" if self.chain else active_element(context))
        self.chain, self.alone, self.moved = whole.name, -1, np.zeros(2)
        bones = chosen_bones(context)
        selected = [child for child in whole.children if child in bones]
        if len(selected) > 1 and not (self.first or self.last):
            self.first, self.last = selected[0], selected[-1]
        own = self.find_chain(hand)
        self.mouse = mouse_of(event)
        self.ways = find_ways(context, hand, own)

    def drag(self, _context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> None:
        mouse = mouse_of(event)
        self.moved = self.moved + (mouse - self.mouse) * (FINE if event.shift else 1.0)
        self.mouse = mouse
        self.bend(follow_mouse(self.ways, self.moved, self.alone))

    def bend(self, total_rad: np.ndarray) -> None:
        """By so much in all."""
        self.flexion, self.lateral, self.axial = (float(angle) for angle in total_rad)

    def take_number(self, _hand: RigInHand, value: float) -> None:
        axis = max(self.alone, 0)
        self.bend(value * np.eye(3)[axis] if self.typed else follow_mouse(self.ways, self.moved, self.alone))

    def press(self, _context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> bool:
        if event.type in ("WHEELUPMOUSE", "WHEELDOWNMOUSE"):
            step = FALL_OFF_STEP if event.type == "WHEELUPMOUSE" else -FALL_OFF_STEP
            self.fall_off = round(min(max(self.fall_off + step, -1.0), 1.0), 2)
            return True
        if event.type not in AXIS_KEYS:
            return False
        axis = AXES.index(AXIS_KEYS[event.type])
        self.alone = -1 if self.alone == axis else axis
        self.bend(follow_mouse(self.ways, self.moved, self.alone))
        return True


def find_ways(context: bpy.types.Context, hand: RigInHand, chain: Chain) -> np.ndarray:
    """(3, 2) which way, and by how many pixels a radian, a bend about each axis moves the chain's tip on the screen."""
    posing, tip = hand.kept.posing, tip_point(hand, chain.tip)
    ways = np.zeros((3, 2))
    begun = to_screen(context, place_of(hand, chain.tip, tip))
    for axis in range(3):
        total = TRIAL_RAD * np.eye(3)[axis]
        bent = bend_chain(posing, hand.begun, chain.children, None, total)
        turned = float(bent.turned_rad[axis])
        if abs(turned) < TRIAL_RAD / 10:  # at its limit already: the other way round
            bent = bend_chain(posing, hand.begun, chain.children, None, -total)
            turned = float(bent.turned_rad[axis])
        show_pose(hand, bent.pose)
        context.view_layer.update()
        there = to_screen(context, place_of(hand, chain.tip, tip))
        if begun is not None and there is not None and abs(turned) >= TRIAL_RAD / 10:
            ways[axis] = (there - begun) / turned
    put_back(hand)
    context.view_layer.update()
    return ways


def follow_mouse(ways: np.ndarray, moved: np.ndarray, alone: int) -> np.ndarray:
    """(3,) the bend that lets the tip follow the mouse; alone : the one axis that is bent about, -1 for two of them.

    Flexion and lateral bending together; what the view hardly shows stays out of it.
    """
    total, lengths = np.zeros(3), np.linalg.norm(ways, axis=1)
    least = max(LEAST * float(lengths.max()), 1.0)
    if alone >= 0:
        hidden = lengths[alone] < least
        total[alone] = moved[0] * RAD_PER_PX if hidden else float(moved @ ways[alone]) / lengths[alone] ** 2
        return total
    both = np.where(lengths < least, 0.0, ways.T)[:, :2]
    damped = both.T @ both + least**2 * np.eye(2)
    total[:2] = np.linalg.solve(damped, both.T @ moved)
    return total


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_OT_bend_chain,))
