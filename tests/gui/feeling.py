"""Where joints stop and why: read in the panel, felt by turning one too far, kept to by bending a whole chain."""

from __future__ import annotations

from journey import Journey
from reading import DriveError

TOO_FAR_DEG, BENT_DEG = 60, 20


def see_joint(journey: Journey) -> None:
    """The joint of the bone in hand: its angles, six limits with their reasons."""
    window, bone = journey.window, journey.plan["bones"][0]
    window.point_at_view()
    window.click(*window.state()["bones"][bone])
    window.wait(f"{bone} selected", lambda s: s["selected"] == [bone])
    window.fold("Joint")
    window.find("Flexion")
    journey.note("joint", f"The joint of {bone}: how far inside its range it stands, and what ends each movement")


def feel_limit(journey: Journey) -> None:
    """Turned by more than it allows, it holds at its limit and tells why; Esc leaves all as it was."""
    window, bone = journey.window, journey.plan["bones"][0]
    before = window.state()["turns"]
    window.push("Turn Joint")
    window.point_at_view()
    window.press(*str(TOO_FAR_DEG))
    window.find_on_screen("stops", window.view_box())
    high = window.state()["limits"][bone][0][1]
    turned = window.wait("the joint to turn", lambda s: s["turns"] != before)["turns"][bone][0]
    if abs(turned - high) > 1e-3:
        raise DriveError(f"asked to turn by {TOO_FAR_DEG}°, {bone} stands at {turned} rad; its limit is {high}")
    journey.note("limit", f"Asked for {TOO_FAR_DEG}°, {bone} stops at its limit, and says why", aside=False)
    window.press("Escape")
    window.wait("all as it was", lambda s: s["turns"] == before)
    window.fold("Joint")


def bend(journey: Journey) -> None:
    """The whole chain of the bone bent at once, shared out over its joints; Esc leaves all as it was."""
    window = journey.window
    before = window.state()
    window.push("Bend Chain")
    window.point_at_view()
    window.press("x", *str(BENT_DEG))
    after = window.wait("the chain to bend", lambda s: len(s["turns"]) > len(before["turns"]) + 2)
    for bone, turn in after["turns"].items():
        low, high = after["limits"][bone][0]
        if not low - 1e-3 <= turn[0] <= high + 1e-3:
            raise DriveError(f"bent, {bone} stands at {turn[0]} rad, outside its range from {low} to {high}")
    journey.note("bend", f"{BENT_DEG}° shared out over the joints of the trunk, none beyond its range", aside=False)
    window.press("Escape")
    window.wait("all as it was", lambda s: s["turns"] == before["turns"])
