"""The first minutes: the demo opened from an empty scene, its neck turned by mouse and keys, taken out by undo."""

from __future__ import annotations

from journey import Journey
from reading import DriveError

ELEMENTS, POSES = 251, ["standing", "stooping", "running", "resting"]


def open_demo(journey: Journey) -> None:
    """One click; then the animal stands there in pose mode, with figures and poses, and is seen whole."""
    window = journey.window
    window.push("Open Demo")
    state = window.wait("the demo with its figures", lambda s: s.get("live") and s.get("poses") == POSES, 300)
    if (state["objects"], state["mode"]) != (ELEMENTS + 1, "POSE"):
        raise DriveError(f"{state['objects']} objects in mode {state['mode']}")
    window.settle()
    journey.note("opened", "Open Demo: the animal in the view, its figures beside it, a bone of the neck in hand")


def turn_neck(journey: Journey) -> None:
    """J over the view and the mouse turn the joint in hand; the figures in the sidebar follow."""
    window = journey.window
    before = window.state()
    left, top, width, height = window.view_box()
    window.move(left + width * 0.7, top + height * 0.35)
    window.settle()
    window.press("j")
    for part in (0.45, 0.55, 0.62):
        window.move(left + width * 0.7, top + height * part)
        window.settle()
    window.wait("the joint to turn", lambda s: s["turns"] != before["turns"])
    state = window.wait("the figures to follow", lambda s: s["live"]["centre"] != before["live"]["centre"])
    print(f"         live: {before['live']} -> {state['live']}", flush=True)
    journey.note("neck", "J and the mouse turn the joint as far as it goes; margin and centre follow", aside=False)
    window.press("Return")


def take_out_demo(journey: Journey) -> None:
    """Undo, until the scene is as it was."""
    window = journey.window
    window.point_at_view()
    window.press("ctrl+z", "ctrl+z")
    window.wait("an empty scene", lambda s: s["objects"] == 0)
