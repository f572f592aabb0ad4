"""Counterpoise for Blender: scans in; joints, a rig, figures for every pose; a hand-over out."""

from __future__ import annotations

from . import operators, panels, preferences, properties
from .bridge import handlers, long_work, mesh_files

PARTS = (preferences, properties, operators, panels, handlers, mesh_files, long_work)


def register() -> None:
    for part in PARTS:
        part.register()


def unregister() -> None:
    for part in reversed(PARTS):
        part.unregister()
