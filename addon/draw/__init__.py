"""Drawing over the 3D view: plain arrays are shown as they are given; all that is found here is where labels fit."""

from __future__ import annotations

from .view import follow, register, unregister

__all__ = ["follow", "register", "unregister"]
