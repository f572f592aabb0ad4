"""What every posing tool shares: it follows the mouse, takes numbers, holds at limits, and can be taken back whole."""

from __future__ import annotations

import math
from dataclasses import dataclass

import bpy
import numpy as np

from ..bridge.auto_keys import key_changed
from ..bridge.cursor_note import CursorNote, hide_note, show_note
from ..bridge.handlers import redraw_views
from ..bridge.rig_in_hand import RigInHand, chain_ends, put_back, show_pose, take_rig
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import CounterpoiseError
from ..draw.marks import find_free
from ..translations.phrases import look_up, look_up_label, say
from .step import NeedsRig, bring_up_to_date, report_error

DIGITS = {
    **{name: str(i) for i, name in enumerate(("ZERO", "ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "SEVEN"))},
    **{"EIGHT": "8", "NINE": "9", "PERIOD": ".", "NUMPAD_PERIOD": "."},
    **{f"NUMPAD_{i}": str(i) for i in range(10)},
}
"""Keys that type a number."""

CONFIRM, CANCEL = ("LEFTMOUSE", "RET", "NUMPAD_ENTER"), ("RIGHTMOUSE", "ESC")

LOOK = ("MIDDLEMOUSE", "NDOF_MOTION", "TIMER", "TIMER_REPORT", "WINDOW_DEACTIVATE")
"""What goes on to Blender: looking round while a tool is in use."""

FINE = 0.1
"""With Shift the mouse counts so much."""


@dataclass(frozen=True, eq=False)
class Posed:
    """What a tool has made of the pose.

    elements : whose bones it is about, not to be covered
    lines : what is said beside the mouse, the first as a heading
    state : holds, close at a limit, fails beyond one, not known
    told : what is reported once it is done
    target : (3,) in the scene, that is to be reached
    """

    pose: Pose
    elements: tuple[str, ...]
    lines: tuple[str, ...]
    state: str
    told: str = ""
    target: tuple[float, float, float] | None = None


class PosingTool(NeedsRig):
    """Mixed into an operator: `solve` makes a pose of the one in hand and the properties; `drag` sets these by mouse.

    From a script the properties alone count. In the window every move of the mouse shows the pose; Esc puts every
    channel back as it was.
    """

    keys = ""
    """What the keys do, for the status bar."""

    live = False
    """Whether it follows the mouse now."""

    takes_numbers = False
    """Whether an angle can be typed."""

    in_hand = True
    """While it runs nothing slow begins, and Esc is its own: see `bridge.tools_in_use`."""

    def solve(self, context: bpy.types.Context, hand: RigInHand) -> Posed:
        raise NotImplementedError

    def grasp(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        """The tool begins under the mouse."""
        raise NotImplementedError

    def drag(self, context: bpy.types.Context, event: bpy.types.Event, hand: RigInHand) -> None:
        """The mouse has moved."""
        raise NotImplementedError

    def press(self, _context: bpy.types.Context, _event: bpy.types.Event, _hand: RigInHand) -> bool:
        """A key of the tool's own; whether it was one."""
        return False

    def take_number(self, _hand: RigInHand, _value: float) -> None:
        """A number was typed."""
        raise NotImplementedError

    def work(self, context: bpy.types.Context) -> str:
        hand = take_rig(context)
        posed = self.solve(context, hand)
        show_pose(hand, posed.pose)
        key_changed(context, hand.rig, hand.channels)
        context.view_layer.update()
        return posed.told

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if bpy.app.background or context.region_data is None:
            return self.execute(context)
        return self.begin(context, event)

    def begin(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Take the rig in hand and wait for the mouse in `modal`."""
        try:
            self.hand = take_rig(context)
            self.typed, self.live, self.over_view = "", True, is_over_view(context, event)
            self.grasp(context, event, self.hand)
            self.show(context, event)
        except CounterpoiseError as error:
            hide_note()
            report_error(self, error)
            return {"CANCELLED"}
        self.area = context.area
        context.workspace.status_text_set(look_up(self.keys))
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type in LOOK:
            return {"PASS_THROUGH"}
        try:
            return self.answer(context, event)
        except CounterpoiseError as error:
            report_error(self, error)
            return self.leave(context, keep=False)

    def answer(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """What an event does."""
        if event.type in CONFIRM and event.value == "PRESS":
            return self.leave(context, keep=True)
        if event.type in CANCEL and event.value == "PRESS":
            return self.leave(context, keep=False)
        moved = event.type in ("MOUSEMOVE", "LEFT_CTRL", "RIGHT_CTRL")
        if not self.over_view and is_over_view(context, event):
            self.over_view, self.mouse = True, mouse_of(event)
        if moved and self.over_view and not self.typed:
            self.drag(context, event, self.hand)
        pressed = event.value == "PRESS" and (self.type_number(event) or self.press(context, event, self.hand))
        if moved or pressed:
            self.show(context, event)
        return {"RUNNING_MODAL"}

    def type_number(self, event: bpy.types.Event) -> bool:
        """Take a key as part of a number; whether it was one."""
        typed = self.typed
        if not self.takes_numbers:
            return False
        if event.type in DIGITS:
            typed += DIGITS[event.type]
        elif event.type in ("MINUS", "NUMPAD_MINUS"):
            typed = typed.removeprefix("-") if typed.startswith("-") else f"-{typed}"
        elif event.type == "BACK_SPACE":
            typed = typed[:-1]
        else:
            return False
        if typed.count(".") <= 1:
            self.typed = typed
        self.take_number(self.hand, read_number(self.typed))
        return True

    def show(self, context: bpy.types.Context, event: bpy.types.Event) -> None:
        """Write the pose that the properties give, and say beside the mouse what came of it."""
        posed = self.posed = self.solve(context, self.hand)
        show_pose(self.hand, posed.pose)
        mouse = (float(event.mouse_region_x), float(event.mouse_region_y))
        bones = chain_ends(self.hand, posed.elements)
        lines = (*posed.lines, say("typed: {angle}°", angle=self.typed)) if self.typed else posed.lines
        show_note(CursorNote(context.region.as_pointer(), mouse, lines, posed.state, bones, posed.target))
        context.area.header_text_set(": ".join((look_up_label(self.bl_label), *posed.lines[:2])))
        redraw_views(context)

    def leave(self, context: bpy.types.Context, keep: bool) -> set[str]:
        """The end: the pose stays and is one step of undo, or every channel is as it was."""
        if keep:
            self.live = False  # searched to the end, as from a script
            self.posed = self.solve(context, self.hand)
            show_pose(self.hand, self.posed.pose)
            key_changed(context, self.hand.rig, self.hand.channels)
        else:
            put_back(self.hand)
        self.put_away(context)
        context.view_layer.update()
        bring_up_to_date(context)
        if keep and self.posed.told:
            self.report({"INFO"}, self.posed.told)
        return {"FINISHED"} if keep else {"CANCELLED"}

    def cancel(self, context: bpy.types.Context) -> None:
        """The window closes or another file is loaded while the tool is in use."""
        put_back(self.hand)
        self.put_away(context)

    def put_away(self, context: bpy.types.Context) -> None:
        """Take the note and the texts out of the window."""
        hide_note()
        self.area.header_text_set(None)
        context.workspace.status_text_set(None)
        redraw_views(context)


def read_number(typed: str) -> float:
    """Degrees typed, as radians; zero as long as there is no digit."""
    return math.radians(float(typed)) if any(letter.isdigit() for letter in typed) else 0.0


def mouse_of(event: bpy.types.Event) -> np.ndarray:
    """(2,) the mouse in the region [px]."""
    return np.array((event.mouse_region_x, event.mouse_region_y), float)


def is_over_view(context: bpy.types.Context, event: bpy.types.Event) -> bool:
    """Whether the mouse is over the part of the view that the sidebar leaves free: not over a button."""
    left, low, right, high = find_free(context)
    return left <= event.mouse_region_x <= right and low <= event.mouse_region_y <= high


def is_held(context: bpy.types.Context) -> bool:
    """Whether joints are to hold at their limits; else the tools warn and go on."""
    return bool(context.scene.counterpoise.hold_limits)
