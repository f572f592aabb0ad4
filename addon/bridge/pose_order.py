"""The order in which the list shows the saved poses; the document keeps its own until it is told otherwise."""

from __future__ import annotations

import re

import bpy

from ..core_calcs.studies.assessment import SEVERITY
from ..core_calcs.studies.comparison import MEASURES
from .figures import drawn_figures, drawn_measures

MEASURED = {"MARGIN": "Margin", "TIP": "Tip angle", "MASS": "Mass"}
"""What of the comparison each sorting goes by."""


def order_rows(scene: bpy.types.Scene) -> list[int]:
    """Rows of the list in the order shown; what is not known comes last, whichever way it is sorted."""
    shown, names = scene.counterpoise.pose_list, [row.name for row in scene.counterpoise.poses]
    if shown.sort == "OWN":
        return list(reversed(range(len(names)))) if shown.reverse else list(range(len(names)))
    keys = _find_keys(scene, shown.sort)
    known = sorted((i for i, name in enumerate(names) if name in keys), key=lambda i: keys[names[i]])
    if shown.reverse:
        known.reverse()
    return [*known, *(i for i, name in enumerate(names) if name not in keys)]


def is_own_order(scene: bpy.types.Scene) -> bool:
    """Whether the list shows the poses as the document keeps them."""
    shown = scene.counterpoise.pose_list
    return shown.sort == "OWN" and not shown.reverse


def _find_keys(scene: bpy.types.Scene, sort: str) -> dict[str, object]:
    """What each pose is sorted by, the best first; without those of which it is not known."""
    if sort == "NAME":
        return {row.name: _split_name(row.name) for row in scene.counterpoise.poses}
    if sort == "STATE":
        return {figures.pose: SEVERITY.index(figures.state) for figures in drawn_figures(scene)[1]}
    name = MEASURED[sort]
    at = next(i for i, measure in enumerate(MEASURES) if measure[0] == name)
    sign = 1 if MEASURES[at][2] == "less" else -1
    measured = {pose: own.values[at] for pose, own in drawn_measures(scene).items()}
    return {pose: sign * value for pose, value in measured.items() if value is not None}


def _split_name(name: str) -> tuple[tuple[bool, int, str], ...]:
    """Numbers in a name as numbers: pose 2 comes before pose 10."""
    parts = re.split(r"(\d+)", name.casefold())
    return tuple((not part.isdigit(), int(part) if part.isdigit() else 0, part) for part in parts if part)
