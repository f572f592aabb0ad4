"""From an empty scene to the rig: the tab, the survey, the skeleton."""

from __future__ import annotations

import csv
from pathlib import Path

from journey import Journey
from reading import DriveError
from window import Window

SIDEBAR_PX = 440
"""Width that the sidebar is dragged to."""


def open_tab(journey: Journey) -> None:
    window = journey.window
    window.point_at_view()
    window.press("Escape", "a", "Delete")
    window.wait("an empty scene", lambda s: s["objects"] == 0)
    widen_sidebar(window)
    journey.note("tab", "The tab after installing: what to do first")


def widen_sidebar(window: Window) -> None:
    """The 3D view over the whole window, the sidebar at its tab and wide enough to read."""
    window.press("ctrl+space")
    if not window.state()["sidebar"]:
        window.press("n")
    window.wait("the sidebar", lambda s: s["sidebar"])
    window.open_tab("Counterpoise")
    left, top, width, _ = window.state()["regions"]["UI"]
    window.drag(left + 6, top + 60, left + width - SIDEBAR_PX)
    window.wait("a wider sidebar", lambda s: s["regions"]["UI"][2] > width)


def name_scans(window: Window, folder: str) -> None:
    """Type the folder; the panel of the skeleton comes, and what is below slides to where it stays."""
    window.fill("Scans", folder)
    window.wait("the folder", lambda s: s["folder"].rstrip("/") == folder)
    before = (0.0, 0.0)
    while (place := window.find("Survey the Scans").middle) != before:
        before = place


def survey(journey: Journey) -> None:
    window, plan = journey.window, journey.plan
    name_scans(window, plan["scans"])
    window.choose("Unit", plan["unit_label"])
    window.wait("the unit", lambda s: s["unit"] == plan["unit"])
    window.fill("Table", plan["table"])
    window.wait("the table's path", lambda s: s["table"] == plan["table"])
    window.push("Survey the Scans")
    window.wait("the survey", lambda s: "Survey" in s["texts"], 300)
    rows = [row for row in read_rows(Path(plan["table"])) if row["attachment"] != "left out"]
    if len(rows) != plan["elements"]:
        raise DriveError(f"the table takes in {len(rows)} elements, not {plan['elements']}")
    journey.note("survey", "Folder and unit given, the scans surveyed, the element table written")


def stop(journey: Journey) -> None:
    """The skeleton begun and stopped by Esc: the scene is as it was."""
    window = journey.window
    before = window.state()
    window.push("Build Skeleton and Rig")
    window.wait("the step to run", lambda s: s["running"])
    journey.note("running", "A long step shows how far it is; Blender stays usable, Esc stops it")
    window.press("Escape")
    after = window.wait("the step to stop", lambda s: not s["running"])
    if after["objects"] or after["texts"] != before["texts"] or after.get("poses"):
        raise DriveError("stopped by Esc, but something was made")
    window.find_on_screen("was stopped. Nothing was changed.", (0, 970, 1600, 30))
    journey.note("stopped", "Stopped: nothing was changed")


def build(journey: Journey) -> None:
    window, plan = journey.window, journey.plan
    window.push("Build Skeleton and Rig")
    state = window.wait("the skeleton", lambda s: s.get("poses"), 900)
    if state["objects"] != plan["elements"] + 1:
        raise DriveError(f"{state['objects']} objects for {plan['elements']} elements and a rig")
    window.point_at_view()
    window.press("ctrl+KP_1", "KP_4", "KP_8")
    window.frame_all()
    window.wait("live figures", lambda s: s.get("live"))
    for panel in ("2 Skeleton", "1 Scans and Table"):  # so that the figures are in sight
        window.fold(panel)
    journey.note(
        "skeleton", "Elements by series and the rig, seen from the animal's left; the live pose has its figures"
    )


def read_rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
