"""The dialogs of joints and castings in Blender's light theme too: opened, seen in both, closed by Esc."""

from __future__ import annotations

from dialog import Dialog, push_for_dialog
from journey import Journey


def lighten(journey: Journey) -> None:
    """Set Joint by Hand, Assemble Loose Elements, Add Missing Bone, Set Casting, each as it opens."""
    window = journey.window
    window.point_at_view()
    window.fold("2 Skeleton")
    window.fold("Set a Joint")
    show_light(journey, push_for_dialog(window, "Set Joint by Hand"), "set-joint")
    window.fold("Set a Joint")
    window.fold("Assembly")
    show_light(journey, push_for_dialog(window, "Assemble Loose Elements"), "assemble")
    window.fold("Assembly")
    window.fold("Missing Bones")
    show_light(journey, push_for_dialog(window, "Add Missing Bone"), "add-bone")
    window.fold("Missing Bones")
    window.fold("2 Skeleton")
    window.fold("4 Castings")
    show_light(journey, push_for_dialog(window, "Set Casting"), "set-casting")
    window.fold("4 Castings")


def note_light(journey: Journey, name: str, aside: bool = True) -> None:
    """A picture of the same in the light theme; the tutorial goes without."""
    if journey.plan["journey"] == "tutorial":
        return
    journey.window.ask_for("light")
    journey.note(f"{name}-light", "The same in Blender's light theme", aside)
    journey.window.ask_for("dark")


def show_light(journey: Journey, dialog: Dialog, name: str) -> None:
    """Pictures of a dialog in the dark theme, then in the light one; it is closed without an answer."""
    window = journey.window
    journey.note(name, "The dialog as it opens", aside=False)
    note_light(journey, name, aside=False)
    left, top, width, _ = dialog.box
    window.move(left + width / 2, top + 12)
    window.settle()
    window.press("Escape")
