"""The demo's .blend as somebody opens it who has run make demo: a pose restored, its figures in the panel."""

from __future__ import annotations

from installation import dialog_box, find_file
from journey import Journey
from poses import press_restore
from reading import DriveError
from skeleton import widen_sidebar

BLEND, POSE = "strider.blend", "running"


def open_blend(journey: Journey) -> None:
    """Ctrl O, Downloads, the file by a double click."""
    window = journey.window
    window.point_at_view()
    window.press("Escape", "ctrl+o")
    window.wait("the file browser", lambda s: "FILE_BROWSER" in s["dialogs"])
    window.settle()
    left, top, width, height = dialog_box(window, "FILE_BROWSER")
    window.click(*window.find_on_screen("Downloads", (left, top, width // 4, height)).middle)
    window.click(*find_file(window, BLEND).middle, times=2)
    window.wait("the figures", lambda s: s.get("live") and s["poses"], 120)
    window.point_at_view()  # away from what a Blender older than the file says; Esc would stop the checks too
    window.settle()
    widen_sidebar(window)
    window.point_at_view()
    window.press("ctrl+KP_1", "Home")
    journey.note("demo", "The demo as it opens: the rig, the steps, the figures of the pose it was left in")


def restore_running(journey: Journey) -> None:
    """The pose that tips; the panel says what the demo's table says."""
    window, wanted = journey.window, journey.plan["figures"]
    for panel in ("3 Pose", "2 Skeleton", "1 Scans and Table"):
        window.fold(panel)
    window.fold("Clearance")
    window.wait(
        "the figures with clearance", lambda s: s["hits"] is not None, 300
    )  # fewer words: all below is higher up
    window.settle()
    press_restore(window, POSE)
    live = window.wait("the pose", lambda s: s["live"]["margin"].startswith("-"))["live"]
    if not (live["mass"].startswith(wanted["mass"]) and live["margin"].startswith(wanted["margin"])):
        raise DriveError(f"the panel has {live}, poses.csv {wanted}")
    window.point_at_view()
    window.press("Home")
    journey.note(POSE, f"{POSE} restored: the centre of mass is outside the feet, and the panel says so")


def show_contacts(journey: Journey) -> None:
    """The pose that rests on its tail, what touches the ground in sight."""
    window = journey.window
    press_restore(window, "resting")
    window.wait("the pose", lambda s: not s["live"]["margin"].startswith("-"))
    window.fold("3 Pose")
    window.push("Ground Contacts")
    window.find("Add Contact")
    journey.note("contacts", "resting: both feet and the tail bear")
    window.fold("3 Pose")


def show_castings(journey: Journey) -> None:
    """How the demo is cast."""
    window = journey.window
    window.fold("4 Castings")
    window.push("caudal")
    journey.note("castings", "All hollow; the tail chosen in the list, its metal below")
