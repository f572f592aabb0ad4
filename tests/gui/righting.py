"""What was mounted wrong: found by the audit, put right with a reason, recorded; how it was is shown over the view."""

from __future__ import annotations

from dialog import push_for_dialog
from journey import Journey
from poses import place_row
from reading import DriveError
from themes import note_light
from window import Window

WHO, REASON = "A. Meyer", "its canal lies below"
MOUNTED = "as mounted before"


def audit(journey: Journey) -> None:
    """Which vertebra stands wrong, with the ways tried and their figures; in both themes."""
    window, wrong = journey.window, journey.plan["turned"]
    window.fold("2 Skeleton")
    window.push("Records")
    window.fill("Recorded By", WHO)
    window.wait("the name", lambda s: s["recorded_by"] == WHO)
    window.fold("Records")
    window.push("Orientation Audit")
    window.push("Audit Orientation")
    window.wait("the audit to run", lambda s: s["running"] or s["audit"])
    told = window.wait("the audit", lambda s: not s["running"] and s["audit"], 300)["audit"]
    if told != [wrong]:
        raise DriveError(f"the audit says that {told} stand wrong, but it is {wrong}")
    window.find("Put Right")
    journey.note("audit", f"The audit: {wrong} stands wrong, with the ways tried, their scores and figures")
    note_light(journey, "audit")


def right(journey: Journey) -> None:
    """One click and a reason; the record tells it."""
    window, wrong = journey.window, journey.plan["turned"]
    dialog = push_for_dialog(window, "Put Right")
    dialog.fill("Reason", REASON)
    journey.note("put-right", "Put Right shows the evidence and asks why", aside=False)
    dialog.answer()
    records = window.wait("the record", lambda s: s["records"] and not s["running"], 300)["records"]
    if records != [["turned", [wrong], REASON, WHO]]:
        raise DriveError(f"the document has {records}")
    window.point_at_view()  # until what is said of the step that ran is gone, and all has moved up
    window.fold("Orientation Audit")
    window.push("Records")
    window.find(REASON)
    journey.note("records", f"{wrong} put right; the record says what, why, on what evidence, by whom and when")
    note_light(journey, "records")
    window.fold("Records")
    window.fold("2 Skeleton")


def ghost(journey: Journey) -> None:
    """Where it stood before, over the view."""
    window, wrong = journey.window, journey.plan["turned"]
    window.click(*place_row(window, MOUNTED))
    window.wait("the pose", lambda s: s["poses"][s["pose_index"]] == MOUNTED)
    show_or_hide(window)
    window.wait("the ghost", lambda s: s["mounted"])
    window.find("Stood elsewhere")
    journey.note("mounted", f"The pose as mounted: where {wrong} stood, see-through, and by how much that is elsewhere")
    show_or_hide(window)
    window.wait("no ghost", lambda s: not s["mounted"])


def show_or_hide(window: Window) -> None:
    """Show in View, which cannot be read while it is pressed: left of Note."""
    left, _, width, _ = window.state()["regions"]["UI"]
    window.click(left + 0.25 * width, window.find("Note").middle[1])
