"""What a scene keeps besides the document: paths, the rig, and how the limits act."""

from __future__ import annotations

from . import settings


def register() -> None:
    settings.register()


def unregister() -> None:
    settings.unregister()
