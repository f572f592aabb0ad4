"""Paths that may begin with `//`, the folder of the .blend."""

from __future__ import annotations

import bpy

PATH_OPTIONS = {"PATH_SUPPORTS_BLEND_RELATIVE"} if bpy.app.version >= (4, 5, 0) else set()
"""Older Blenders take `//` in any path."""
