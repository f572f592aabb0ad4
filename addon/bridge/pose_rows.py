"""The list of poses in the panel: rows that mirror the document. They are written from it and never read back.

They belong to the scene, so that undo and load bring them back together with the document; written by operators, and
by the timer where somebody changed the text block by hand. Never by a handler.
"""

from __future__ import annotations

import bpy

from ..core_calcs.spatial.errors import CounterpoiseError
from .kept_document import keep_document


def mirror_poses(scene: bpy.types.Scene) -> None:
    """Make the rows those of the scene's document; where they are already nothing is written."""
    settings, names = scene.counterpoise, _list_names(scene)
    rows = settings.poses
    if [row.name for row in rows] != names:
        checked = _follow_checks([(row.name, (row.compared, row.ghost)) for row in rows], names)
        while len(rows) > len(names):
            rows.remove(len(rows) - 1)
        while len(rows) < len(names):
            rows.add()
        for row, name, (compared, ghost) in zip(rows, names, checked, strict=True):
            row.name, row.compared, row.ghost = name, compared, ghost
    last = max(0, len(names) - 1)
    if not 0 <= settings.pose_index <= last:
        settings.pose_index = min(max(settings.pose_index, 0), last)


Checks = tuple[bool, bool]
"""Whether a pose is compared, and whether it is shown as a ghost."""


def _follow_checks(before: list[tuple[str, Checks]], names: list[str]) -> list[Checks]:
    """What stays checked of each pose: by its name; where it has a new one, by its place in the list."""
    known = dict(before)
    kept = []
    for i, name in enumerate(names):
        renamed = name not in known and i < len(before) and before[i][0] not in names
        kept.append(before[i][1] if renamed else known.get(name, (False, False)))
    return kept


def select_pose(scene: bpy.types.Scene, name: str) -> None:
    """Select the row of a pose that the document has just got, or that has moved."""
    mirror_poses(scene)
    scene.counterpoise.pose_index = scene.counterpoise.poses.find(name)


def _list_names(scene: bpy.types.Scene) -> list[str]:
    if scene.counterpoise.document is None:
        return []
    try:
        return [pose.name for pose in keep_document(scene).document.poses]
    except CounterpoiseError:  # the figures tell what is wrong with the document
        return []
