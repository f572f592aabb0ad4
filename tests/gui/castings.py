"""Castings, weighings, alloy, discs and steelwork: said in the panel, held against the document and the list."""

from __future__ import annotations

import re

from dialog import push_for_dialog
from journey import Journey
from poses import FIRST_ROW_PX, ROW_PX
from reading import DriveError
from window import Window

WALL_M, STRUTS, WEIGHED_KG, ALLOY = 0.004, 0.1, 1.75, "CuSn10-C (CC480K)"

ROWS, NAME_PX = 14, 60
"""Rows that the list shows at the most; from the left end of its head to a place in a name."""


def cast(journey: Journey) -> None:
    """The whole hollow with struts: the mass in the list goes down."""
    window = journey.window
    window.fold("3 Pose")
    window.fold("4 Castings")
    solid = read_mass(window, "scans")
    dialog = push_for_dialog(window, "Set Casting")
    dialog.push("Hollow")
    dialog.fill("Wall", f"{1000 * WALL_M:g} mm")
    dialog.fill("Struts", f"{100 * STRUTS:g}")
    journey.note("casting", "The dialog of Set Casting: hollow, with a wall of 4 mm and struts", aside=False)
    dialog.answer()
    state = window.wait("voids measured", lambda s: s["build"]["casting"]["kind"] == "hollow" and not s["running"], 300)
    casting = state["build"]["casting"]
    if abs(casting["wall_m"] - WALL_M) > 1e-9 or abs(casting["struts_share"] - STRUTS) > 1e-9:
        raise DriveError(f"the document has another casting: {casting}")
    window.settle()
    hollow = read_mass(window, "scans")
    if not 0 < hollow < solid:
        raise DriveError(f"hollow {hollow} and solid {solid}, as the list shows")
    journey.note("cast", "Cast hollow: the masses in the list have gone down")


def weigh(journey: Journey) -> None:
    """A casting as weighed: it counts, and the difference stands below the list."""
    window = journey.window
    window.push("Single Elements")
    choose_row(window, "Femur.L")
    dialog = push_for_dialog(window, "Weigh")
    dialog.fill("Mass", f"{WEIGHED_KG:g}")
    dialog.fill("Uncertainty", "0.02")
    dialog.fill("Note", "on the platform scales")
    journey.note("weighing", "The dialog of Weigh: mass, uncertainty, a note", aside=False)
    dialog.answer()
    weighings = window.wait("the weighing", lambda s: s["build"]["weighings"])["build"]["weighings"]
    if [(own["element"], own["mass_kg"]) for own in weighings] != [("Femur.L", WEIGHED_KG)]:
        raise DriveError(f"the document has other weighings: {weighings}")
    window.find("calculated")
    journey.note("weighed", "Femur.L as weighed; below the list what was calculated, and by how much it is off")


def choose_alloy(journey: Journey) -> None:
    window = journey.window
    dialog = push_for_dialog(window, "Set Alloy and Scale")
    dialog.choose("Alloy", ALLOY)
    journey.note("alloy", "The dialog of the alloy, with the uncertainty of the scans' scale", aside=False)
    dialog.answer()
    window.wait("the alloy", lambda s: s["build"]["material"]["name"] == ALLOY)


def add_parts(journey: Journey) -> None:
    """Discs in every joint with a gap, steel from one end of the column to the other."""
    window = journey.window
    window.push("Single Elements")
    choose_row(window, "scans")
    window.push("Discs and Steelwork")
    dialog = push_for_dialog(window, "Set Discs")
    journey.note("discs", "The dialog of Set Discs, as it opens", aside=False)
    dialog.answer()
    discs = window.wait("discs", lambda s: s["build"]["discs"])["build"]["discs"]
    if len(discs) != journey.plan["discs"]:
        raise DriveError(f"{len(discs)} discs, not {journey.plan['discs']}")
    dialog = push_for_dialog(window, "Lay Steelwork")
    dialog.fill("Name", "spine")
    dialog.search("From", "L1")
    dialog.search("To", "Sacrum")
    journey.note("steelwork", "The dialog of Lay Steelwork: a name, from where to where, the section", aside=False)
    dialog.answer()
    (work,) = window.wait("steelwork", lambda s: s["build"]["steelwork"])["build"]["steelwork"]
    if (work["name"], work["start"], work["end"]) != ("spine", "L1", "Sacrum"):
        raise DriveError(f"the document has other steelwork: {work}")
    window.find("spine:")
    window.find(f"{len(discs)} discs of")
    journey.note("parts", "Discs and steelwork in the panel, each with its mass")


def place_row(window: Window, name: str) -> tuple[float, float]:
    """Where a row of the list stands: the one selected is white on blue, which the reader does not find."""
    head = window.find("Element", alone=1)
    row = window.state()["castings"].index(name)
    if row >= ROWS:
        raise DriveError(f"{name} is not among the first {ROWS} rows of the list")
    return head.left + NAME_PX, head.middle[1] + FIRST_ROW_PX + ROW_PX * row


def choose_row(window: Window, name: str) -> None:
    window.click(*place_row(window, name))


def read_mass(window: Window, name: str) -> float:
    """The mass at the end of a row of the list, as the screen shows it."""
    text = window.read_end_of_row(place_row(window, name)[1])
    if not re.fullmatch(r"\d+(\.\d+)?", text):
        raise DriveError(f"the row {name} ends with {text!r}, which is no mass")
    return float(text)
