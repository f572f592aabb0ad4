"""How a pose stands and pulls, over the view and in the panel; in Blender's light theme too."""

from __future__ import annotations

from journey import Journey
from poses import press_restore

POSE = "standing"


def show_balance(journey: Journey) -> None:
    """The pose that stands, seen from aside and above; then its joint moments, in both themes."""
    window = journey.window
    press_restore(window, POSE)
    window.wait("the pose", lambda s: not s["live"]["margin"].startswith("-"))
    window.fold("Saved Poses")
    window.find("Foot Forces")
    window.point_at_view()
    window.press("Home", *["KP_8"] * 2, *["KP_6"] * 3)
    journey.note("balance", f"{POSE}: centre of mass over the support polygon, its margin, what the feet take")
    window.push("Joint Moments")
    window.wait("moments", lambda s: s["moments"])
    journey.note("moments", "Joint moments along neck, trunk, tail and limbs, by colour and width")
    for theme in ("light", "dark"):
        window.ask_for(theme)
        if theme == "light":
            journey.note("moments-light", "The same in Blender's light theme")
    window.push("Joint Moments")
    window.push("Saved Poses")
