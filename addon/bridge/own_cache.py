"""The joints that were found before, kept in the extension's own folder; the user may want none kept."""

from __future__ import annotations

from pathlib import Path

import bpy

from ..core_calcs.studies.joint_cache import JointCache, open_cache

_PACKAGE = __package__.rpartition(".")[0]


def open_own_cache() -> JointCache | None:
    """The cache, elsewhere or off where the environment says so; None where the preferences say that none is kept."""
    if not bpy.context.preferences.addons[_PACKAGE].preferences.keep_joints:
        return None
    try:
        folder = Path(bpy.utils.extension_path_user(_PACKAGE, path="joints"))
    except ValueError:  # not installed as an extension: there is no folder of its own
        folder = None
    return open_cache(usual=folder)
