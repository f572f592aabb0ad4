"""Head, tail tip or foot brought to a place, the skull turned to look at one: every joint stays inside its range."""

from __future__ import annotations

from collections.abc import Callable

import bpy
import numpy as np

from ..bridge.frames import scene_scale
from ..bridge.posing_text import is_there, looks_there, word_limits, word_look, word_reach, word_slip
from ..bridge.rig_in_hand import RigInHand, active_element, pick_chain, place_of, tip_point
from ..bridge.units import scene_units
from ..bridge.view_plane import find_surface, to_scene_plane
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.legs import find_legs, list_above
from ..core_calcs.studies.posing import Chain, PlaceGoal, Reached, look_at, reach
from .posing_tool import FINE, Posed, PosingTool, mouse_of
from .step import AS_GIVEN

ROUNDS, NEARER = 12, 1e-6
"""From a script the search goes on so often, or until it comes no nearer: metres, radians."""


class COUNTERPOISE_OT_reach(PosingTool, bpy.types.Operator):
    """Bring the tip of the active bone (head, tail, foot) to a place; every joint stays inside its range"""

    bl_idname = "counterpoise.reach"
    bl_label = "Reach"
    bl_options = {"REGISTER", "UNDO", "BLOCKING"}  # noqa: RUF012  Blender wants a plain set

    keys = "Click: done    Esc: as it was    H: hold the feet, the body follows    Wheel: falloff    Shift: fine"

    element: bpy.props.StringProperty(
        name="Element", description="What is to reach; empty: that of the active bone", options=AS_GIVEN
    )
    target: bpy.props.FloatVectorProperty(
        name="Target", description="Where the tip of its bone is to go, in world space", subtype="XYZ", options=AS_GIVEN
    )
    hold_feet: bpy.props.BoolProperty(
        name="Hold the Feet", description="The whole body follows, and the feet that stand on the ground stay there"
    )
    fall_off: bpy.props.FloatProperty(
        name="Falloff",
        description="Above zero less towards the tip, below zero less towards the base; not with the feet held",
        min=-1.0,
        max=1.0,
        options=AS_GIVEN,
    )

    def solve(self, context: bpy.types.Context, hand: RigInHand) -> Posed:
        element = self.element or active_element(context)
        chain = pick_chain(hand, "", element)
        goal = PlaceGoal(element, tip_point(hand, element), np.array(self.target) * scene_scale(hand.scene))
        posing, units = hand.kept.posing, scene_units(hand.scene)
        legs, held = find_legs(posing, list_held(hand, chain)) if self.hold_feet else ([], [])
        turning, root = [*chain.children, *(leg for leg in legs if leg not in chain.children)], float(self.hold_feet)

        fall_off = 0.0 if self.hold_feet else self.fall_off

        def search(pose: Pose) -> Reached:
            return reach(posing, pose, [goal], turning, held, root, hand.begun, fall_off, live=self.live)

        found = search_on(hand.pose, search, self.live)
        if self.hold_feet and not self.live and hand.pose is not hand.begun:
            # With feet held a drag may come to rest short of what can be reached: once more from where it began.
            anew = search_on(hand.begun, search, self.live)
            found = anew if float(found.misses[0] - anew.misses[0]) > NEARER * posing.size_m else found
        limits = word_limits(posing, found.pose, [own for own in found.at_limit if own in chain.children])
        near = word_reach(found, units)
        lines = (element, near, *word_slip(found, units), *(() if is_there(found) else limits))
        state = "holds" if is_there(found) else "close"
        target = tuple(self.target)
        return Posed(found.pose, chain.children, lines, state, f"{element}: {'; '.join(lines[1:])}", target)

    def grasp(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        self.element = self.element or active_element(context)
        pick_chain(hand, "", self.element)
        self.begun_at = place_of(hand, self.element, tip_point(hand, self.element))
        self.target = self.begun_at
        self.mouse, self.moved = mouse_of(event), np.zeros(3)

    def drag(self, context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> None:
        mouse = mouse_of(event)
        begin, end = (to_scene_plane(context, tuple(at), self.begun_at) for at in (self.mouse, mouse))
        self.moved = self.moved + (end - begin) * (FINE if event.shift else 1.0)
        self.mouse = mouse
        self.target = self.begun_at + self.moved

    def press(self, _context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> bool:
        if event.type == "H":
            self.hold_feet = not self.hold_feet
        elif event.type in ("WHEELUPMOUSE", "WHEELDOWNMOUSE"):
            step = 0.1 if event.type == "WHEELUPMOUSE" else -0.1
            self.fall_off = round(min(max(self.fall_off + step, -1.0), 1.0), 2)
        else:
            return False
        return True


class COUNTERPOISE_OT_look_at(PosingTool, bpy.types.Operator):
    """Turn the skull, by the neck, to look at what is under the mouse, or at the 3D cursor"""

    bl_idname = "counterpoise.look_at"
    bl_label = "Look At"
    bl_options = {"REGISTER", "UNDO", "BLOCKING"}  # noqa: RUF012  Blender wants a plain set

    keys = "Click: done    Esc: as it was    C: the 3D cursor"

    target: bpy.props.FloatVectorProperty(
        name="Target", description="The point to look at, in world space", subtype="XYZ", options=AS_GIVEN
    )
    at_cursor: bpy.props.BoolProperty(
        name="3D Cursor", description="Look at the 3D cursor instead of the target", options=AS_GIVEN
    )

    def solve(self, context: bpy.types.Context, hand: RigInHand) -> Posed:
        posing = hand.kept.posing
        place = context.scene.cursor.location if self.at_cursor else self.target
        at = np.array(place) * scene_scale(hand.scene)
        neck = find_neck(hand)

        def search(pose: Pose) -> Reached:
            return look_at(posing, pose, at, start=hand.begun)

        found = search_on(hand.pose, search, self.live)
        if not self.live and hand.pose is not hand.begun:
            # The mouse may have led the neck round sideways: as from a script, unless that looks less nearly there.
            anew = search_on(hand.begun, search, self.live)
            found = found if float(anew.misses[0] - found.misses[0]) > NEARER else anew
        near, limits = word_look(found), word_limits(posing, found.pose, found.at_limit)
        lines = (neck.tip, near, *(() if looks_there(found) else limits))
        state = "holds" if looks_there(found) else "close"
        return Posed(found.pose, neck.children, lines, state, f"{neck.tip}: {'; '.join(lines[1:])}", tuple(place))

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        return self.execute(context) if self.at_cursor else super().invoke(context, event)

    def grasp(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        tip = find_neck(hand).tip
        self.begun_at = place_of(hand, tip, tip_point(hand, tip))
        if self.over_view:
            self.drag(context, event, hand)
        else:
            self.target = place_of(hand, tip, point_ahead(hand, tip))  # the mouse is over a button: it stays as it is

    def drag(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        mouse = tuple(mouse_of(event))
        surface = find_surface(context, mouse)
        self.target = to_scene_plane(context, mouse, self.begun_at) if surface is None else surface

    def press(self, context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> bool:
        if event.type != "C":
            return False
        self.target = context.scene.cursor.location
        return True


def find_neck(hand: RigInHand) -> Chain:
    """The neck; SkeletonError where there is none."""
    for chain in hand.kept.posing.chains:
        if chain.kind == "neck":
            return chain
    raise SkeletonError(hand.kept.document.skeleton.name, "it has no neck", "reach with another element")


def point_ahead(hand: RigInHand, element: str) -> np.ndarray:
    """(3,) what an element looks at as it stands, as far away as the skeleton is large, in its frame E [m]."""
    skeleton, posing = hand.kept.document.skeleton, hand.kept.posing
    own = skeleton.elements[skeleton.index(element)]
    return np.asarray(own.solid.centre_m + posing.size_m * own.X_WE[0, :3], float)


def search_on(pose: Pose, search: Callable[[Pose], Reached], live: bool) -> Reached:
    """One round of the search from a pose while the mouse moves; from a script as many as bring it nearer."""
    found = search(pose)
    for _ in range(0 if live else ROUNDS):
        before = found
        found = search(found.pose)
        if float(before.misses[0] - found.misses[0]) < NEARER:
            break
    return found


def list_held(hand: RigInHand, moved: Chain | None = None) -> list[str]:
    """The feet that stand on the ground as the tool began, but for what stands on the chain that is moved."""
    feet = [foot for foot in hand.kept.document.skeleton.feet if foot.name in hand.standing]
    own, posing = [] if moved is None else moved.children, hand.kept.posing
    return [
        foot.name for foot in feet if not any(child in own for child in list_above(posing, foot.contacts[0].element))
    ]


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_OT_reach, COUNTERPOISE_OT_look_at))
