"""What a scene keeps besides the document: paths, the rig, and how the limits act."""

from __future__ import annotations

from . import castings, elements, overlays, poses, records, settings, skeletons

PARTS = (elements, poses, castings, records, skeletons, overlays, settings)


def register() -> None:
    for part in PARTS:
        part.register()


def unregister() -> None:
    for part in reversed(PARTS):
        part.unregister()
