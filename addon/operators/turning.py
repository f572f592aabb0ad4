"""One joint turned by the mouse, by a number or from a script: it holds at its limit, or warns, and says why."""

from __future__ import annotations

import math

import bpy
import numpy as np

from ..bridge.posing_text import word_turn
from ..bridge.rig_in_hand import RigInHand, active_element, angles_of, find_bone, joint_axes, turned_pose
from ..bridge.view_plane import looks_along, to_screen, turn_about
from ..core_calcs.skeleton.joint import Joint
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.held_turn import turn_joint
from .posing_tool import FINE, Posed, PosingTool, is_held, mouse_of
from .step import AS_GIVEN

AXES = [
    ("FLEXION", "Flexion", "Bend towards the belly, or back"),
    ("LATERAL", "Lateral", "Bend to the side; abduction of a limb"),
    ("AXIAL", "Axial", "Turn about the long axis"),
]

AXIS_KEYS = {**dict.fromkeys("XF", "FLEXION"), **dict.fromkeys("ZL", "LATERAL"), **dict.fromkeys("YA", "AXIAL")}
"""Blender's letters of the bone's axes, and the first letters of what they are called."""

NAMES = ("flexion", "lateral", "axial")
LEAST_RAD = 1e-6

SNAP_RAD, FINE_SNAP_RAD = math.radians(5), math.radians(1)
"""With Ctrl, and with Ctrl Shift, as Blender's own turning snaps."""

ANGLE = {"subtype": "ANGLE", "options": AS_GIVEN, "soft_min": -math.pi, "soft_max": math.pi}


class COUNTERPOISE_OT_turn_joint(PosingTool, bpy.types.Operator):
    """Turn the joint of the active bone: it holds at its limit, or warns, and says why beside the mouse"""

    bl_idname = "counterpoise.turn_joint"
    bl_label = "Turn Joint"
    bl_options = {"REGISTER", "UNDO", "BLOCKING"}  # noqa: RUF012  Blender wants a plain set

    keys = "Click: done    Esc: as it was    X flexion, Z lateral, Y axial    Ctrl: steps    Shift: fine    0-9: angle"
    takes_numbers = True

    aimed = False
    """Whether it turns on from `turned_from`: the attitude in which the present axis was taken."""

    element: bpy.props.StringProperty(
        name="Element", description="Whose joint is turned; empty: that of the active bone", options=AS_GIVEN
    )
    axis: bpy.props.EnumProperty(name="Axis", description="About which the mouse turns it", items=AXES)
    flexion: bpy.props.FloatProperty(name="Flexion", description="Where none is given: as it is", **ANGLE)
    lateral: bpy.props.FloatProperty(name="Lateral", description="Where none is given: as it is", **ANGLE)
    axial: bpy.props.FloatProperty(name="Axial", description="Where none is given: as it is", **ANGLE)

    def solve(self, context: bpy.types.Context, hand: RigInHand) -> Posed:
        joint = self.find_joint(context, hand)
        begun, wanted = angles_of(hand.begun, joint.child), self.wanted(hand, joint)
        turn = turn_joint(joint, self.turned_from if self.aimed else begun, wanted, is_held(context))
        gone = np.abs(turn.angles_rad - begun) > LEAST_RAD
        also = [name for name, far in zip(NAMES, gone, strict=True) if far and name != self.axis.lower()]
        lines, state = word_turn(joint, turn, self.axis.lower(), also if self.aimed else ())
        pose = turned_pose(hand.begun, joint.child, turn.angles_rad)
        return Posed(pose, (joint.child,), lines, state, f"{joint.child}: {', '.join(lines[1:])}")

    def find_joint(self, context: bpy.types.Context, hand: RigInHand) -> Joint:
        """The joint that is to be turned; SkeletonError where there is none that turns."""
        element = self.element or active_element(context)
        if not element:
            raise SkeletonError("joint", "none is in hand", "make a bone active in pose mode, or name an element")
        joint = hand.kept.document.skeleton.joint_of(element)
        if not joint.moves or find_bone(hand.rig, element) is None:
            raise SkeletonError(element, "its joint is fixed", "turn another one, or set the joint by hand")
        return joint

    def wanted(self, hand: RigInHand, joint: Joint) -> np.ndarray:
        """(3,) the angles asked for; those not given are as they are."""
        given = self.properties.is_property_set
        begun = angles_of(hand.begun, joint.child)
        return np.array([getattr(self, name) if given(name) else begun[i] for i, name in enumerate(NAMES)])

    def grasp(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        self.element = self.find_joint(context, hand).child
        self.aim(context, event, hand, angles_of(hand.begun, self.element))

    def aim(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand, angles: np.ndarray) -> None:
        """Begin about the present axis, from angles (3,)."""
        centre, axes = joint_axes(hand, self.element)
        self.row = [item[0] for item in AXES].index(self.axis)
        self.aimed, self.turned_from = True, angles
        self.flexion, self.lateral, self.axial = (float(angle) for angle in angles)
        self.turned, self.mouse = 0.0, mouse_of(event)
        middle = to_screen(context, centre)
        self.middle = np.array((context.region.width / 2, context.region.height / 2)) if middle is None else middle
        self.sense = -1.0 if axes[self.row] @ looks_along(context, centre) > 0 else 1.0

    def drag(self, _context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> None:
        mouse = mouse_of(event)
        self.turned += self.sense * turn_about(self.middle, self.mouse, mouse) * (FINE if event.shift else 1.0)
        self.mouse = mouse
        angle = self.turned_from[self.row] + self.turned
        if event.ctrl:
            step = FINE_SNAP_RAD if event.shift else SNAP_RAD
            angle = step * round(angle / step)
        self.set_angle(float(angle))

    def take_number(self, _hand: RigInHand, value: float) -> None:
        self.set_angle(value if self.typed else float(self.turned_from[self.row] + self.turned))

    def set_angle(self, angle_rad: float) -> None:
        """About the present axis."""
        setattr(self, self.axis.lower(), angle_rad)

    def press(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> bool:
        if event.type not in AXIS_KEYS:
            return False
        self.axis, again, self.typed = AXIS_KEYS[event.type], AXIS_KEYS[event.type] == self.axis, ""
        context.view_layer.update()  # the axes are those of the joint as it stands now
        angles = angles_of(hand.pose, self.element).copy()
        if again:
            angles[self.row] = angles_of(hand.begun, self.element)[self.row]
        self.aim(context, event, hand, angles)
        return True


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_OT_turn_joint,))
